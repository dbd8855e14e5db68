"""The kits: a list of them, a page about each, the way to learning, and watching a kit.

Watching shows every message in words and bytes, how hard, and how long after the one before.
"""

from __future__ import annotations

from collections import deque
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import work
from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.screen import Screen
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from trainer.console import printable
from trainer.errors import BadInput, TrainerError
from trainer.kit import kits
from trainer.kit.model import GENERAL_MIDI
from trainer.kit.survey import check_page
from trainer.midi import midi_message
from trainer.midi.kit_input import KitMonitor, MidiSource
from trainer.screens import common
from trainer.screens.common import call_on_screen
from trainer.screens.dialogs import AskScreen
from trainer.screens.kit_learning import LearnScreen
from trainer.screens.page_screen import open_page
from trainer.screens.pages_kit import kit_pages
from trainer.screens.widgets.canvas import Lines
from trainer.show import kit_words
from trainer.show.page import refused_by

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from textual.app import App, ComposeResult

    from trainer.kit.model import Kit
    from trainer.midi.kit_input import TimedMessage
    from trainer.show.ink import Line
    from trainer.show.page import Page


LOOK_S = 1 / 30
MOST = 500
"""Messages that are kept to be looked at again."""

BAR = 12
"""Width of the velocity bar: with it the longest message fits into 80 columns."""


class WatchScreen(Screen[None]):
    """The newest messages, the last one at the bottom; holding keeps them still."""

    GUIDE = (
        "Every message the kit sends, the newest at the bottom. A row has the time since the one "
        "before, and the bytes. Then what it says, with a bar for the velocity. Two strokes "
        "milliseconds apart where you played one: a double trigger, or one pad shaking another. "
        "trainer kit survey measures both. Clock and active sensing can be left out."
    )
    BINDINGS: ClassVar = [
        Binding("space", "hold", "Hold", tooltip="Hold the list still, or continue", id="hold"),
        Binding("x", "steady", "Clock", tooltip="Leave out clock and active sensing, or not"),
        Binding("c", "clear", "Clear", tooltip="Begin an empty list", id="clear"),
        Binding("up", "scroll_by(1)", "Earlier messages", show=False),
        Binding("down", "scroll_by(-1)", "Later messages", show=False),
        Binding("pageup", "scroll_by(10)", "Ten messages earlier", show=False),
        Binding("pagedown", "scroll_by(-10)", "Ten messages later", show=False),
        common.CLOSE_KEY,
        common.HELP_KEY,
    ]

    def __init__(self, monitor: KitMonitor, kit: Kit, seconds: float | None = None) -> None:
        """Show what a kit sends, for some seconds or until the player leaves."""
        super().__init__()
        self.monitor, self.kit, self._seconds = monitor, kit, seconds
        self.rows: deque[Line] = deque(maxlen=MOST)
        self.held = False
        self.back = 0
        self.steady = True
        self._count = 0
        self._last_s: float | None = None

    @classmethod
    def of_port(cls, port: str = "", kit: str = "", seconds: float | None = None) -> WatchScreen:
        """Return the screen that watches a port through a kit (empty: the one of that port).

        Opens the port, and raises BadInput where it cannot.
        """
        named = kits.load(kit) if kit else None
        monitor = KitMonitor(MidiSource(port))
        return cls(monitor, named or kits.kit_for_port(monitor.name), seconds)

    def on_unmount(self) -> None:
        """Close the port."""
        self.monitor.close()

    def compose(self) -> ComposeResult:
        """Lay out the head, the messages and the keys."""
        yield Lines(lambda columns: [self._head()], id="head")
        yield Lines(lambda columns: self._shown(), id="messages")
        yield common.KeyLine()

    def on_mount(self) -> None:
        """Look at what was heard, again and again."""
        self.set_interval(LOOK_S, self.look)
        if self._seconds is not None:
            self.set_timer(self._seconds, self._end)

    async def _end(self) -> None:
        await self.run_action("app.close")

    def look(self) -> None:
        """Take what was heard since the last look and draw it once."""
        for heard in self.monitor.take():
            self._add(heard)
        self._draw()

    def _draw(self) -> None:
        for lines in self.query(Lines):
            lines.redraw()

    def _add(self, heard: TimedMessage) -> None:
        self._count += 1
        if not self.steady and heard.message[0] in (
            midi_message.CLOCK,
            midi_message.ACTIVE_SENSING,
        ):
            return
        since = None if self._last_s is None else heard.time_s - self._last_s
        self._last_s = heard.time_s
        if len(self.rows) == MOST:
            # What is held still must not slide away under the eyes.
            self.back -= self.back > 0 and not self.held
        self.rows.append(message_line(heard, since, self.kit))
        if self.held:
            self.back = min(self.back + 1, len(self.rows) - 1)

    def _head(self) -> Line:
        gone = ((f" {printable(self.monitor.name)} is gone; plug it in again ", "alert"),)
        here = ((f"Listening to {printable(self.monitor.name)}", "strong"),)
        reported = f"   {self._count} message{'' if self._count == 1 else 's'}"
        reported += "   without clock and active sensing" * (not self.steady)
        reported += f"   {self.monitor.dropped} too many to show" * bool(self.monitor.dropped)
        held: Line = (("   ", "plain"), (" held ", "alert")) if self.held else ()
        return (*(gone if self.monitor.lost else here), (reported, "plain"), *held)

    def _shown(self) -> Sequence[Line]:
        if not self.rows:
            return [(("Nothing has come yet. Strike a pad, or move the pedal.", "faint"),)]
        height = self.query_one("#messages").size.height
        end = len(self.rows) - self.back
        return [*self.rows][max(0, end - height) : end]

    def action_hold(self) -> None:
        """Hold the list still while messages keep coming, or go to the newest."""
        self.held = not self.held
        self.back = self.back if self.held else 0
        self._draw()

    def action_scroll_by(self, rows: int) -> None:
        """Look at earlier or later messages; looking back holds the list."""
        self.back = max(0, min(self.back + rows, len(self.rows) - 1))
        self.held = self.held or self.back > 0
        self._draw()

    def action_steady(self) -> None:
        """Leave messages out that come all the time, or show them."""
        self.steady = not self.steady
        self._draw()

    def action_clear(self) -> None:
        """Begin again with an empty list."""
        self.rows.clear()
        self.back = 0
        self._draw()


def message_line(heard: TimedMessage, since_s: float | None, kit: Kit) -> Line:
    """Return one message's line: time since the last, bytes, velocity bar, words."""
    since = "" if since_s is None else f"{1000 * since_s:+.1f} ms"
    return (
        (f"{since:>11} ", "faint"),
        (f"{kit_words.message_bytes(heard.message):<9}", "plain"),
        (f"{kit_words.velocity_bar(heard.message, BAR):<{BAR}} ", "centre"),
        (printable(kit_words.message_words(heard.message, kit)), "strong"),
    )


class KitsScreen(Screen[None]):
    """The list of kits and the page of the one under the cursor."""

    GUIDE = (
        "Your kits, and the one that ships. The page says what is set, missing and looks wrong. l "
        "learns which pad sends which note, strike by strike. w shows every message as it comes. "
        "m measures doubles, crosstalk and power of this kit. c learns its controllers. t shows "
        "how late it is, and sets that."
    )
    BINDINGS: ClassVar = [
        Binding("l", "learn", "Learn", tooltip="Strike each pad in turn", id="learn"),
        Binding("w", "watch", "Watch", tooltip="See every message as it comes", id="watch"),
        Binding("m", "open('survey')", "Measure", tooltip="Doubles, crosstalk and power"),
        Binding("c", "open('controllers')", "Controllers", tooltip="Learn pedal, places, chokes"),
        Binding("t", "open('latency')", "Latency", tooltip="How late it is: measure it, or set it"),
        common.CLOSE_KEY,
        common.HELP_KEY,
    ]

    def __init__(
        self, chosen: str = "", pages: Callable[[str], Mapping[str, Page]] = kit_pages
    ) -> None:
        """Begin with a kit; `pages` makes what is measured of one, by the action of `kit`."""
        super().__init__()
        self.names, self.pages = kits.names(), pages
        self._chosen = chosen

    def compose(self) -> ComposeResult:
        """Lay out the kits, the page and the keys."""
        yield Static("Kits", id="heading", markup=False)
        with Horizontal(id="kits"):
            yield OptionList(*(Option(Text(printable(name))) for name in self.names), markup=False)
            with VerticalScroll(id="page"):
                yield Static("", markup=False)
        yield common.KeyLine()

    def on_mount(self) -> None:
        """Put the cursor on the kit in use; from here on its pads are no keys."""
        app: Any = self.app
        app.let_pads_go()
        options = self.query_one(OptionList)
        options.focus()
        options.highlighted = self.names.index(self._chosen) if self._chosen in self.names else 0

    def on_unmount(self) -> None:
        """Let the pads be keys again."""
        app: Any = self.app
        app.take_pads_back()

    @property
    def name_chosen(self) -> str:
        """The kit under the cursor."""
        return self.names[self.query_one(OptionList).highlighted or 0]

    def on_option_list_option_highlighted(self) -> None:
        """Show the page of the kit under the cursor."""
        self._show_page()

    def action_learn(self) -> None:
        """Take a name and learn a kit under it."""
        own = self.name_chosen != GENERAL_MIDI.name
        known = self.name_chosen if own else ""

        def learn(name: str | None) -> None:
            if name:
                self._listen(partial(LearnScreen.of_port, name))

        question = "Learn a kit under the name"
        self.app.push_screen(AskScreen(question, known, refused_by(kits.check_name)), learn)

    def action_watch(self) -> None:
        """Watch what comes in."""
        self._listen(WatchScreen.of_port)

    def action_open(self, action: str) -> None:
        """Measure something of the kit under the cursor, one of the player's own."""
        if self.name_chosen == GENERAL_MIDI.name:
            self.notify("Learn your own kit first.", severity="warning", markup=False)
        else:
            measured = self.pages(self.name_chosen)[action]
            open_page(self.app, measured, lambda _: self._show_page())

    def _show_page(self) -> None:
        """Show the page of the kit under the cursor."""
        try:
            lines = [*check_page(kit := kits.load(self.name_chosen), kits.kits_on_same_port(kit))]
        except BadInput as fault:
            lines = [self.name_chosen, "", *str(fault).splitlines()]
        self.query_one("#page Static", Static).update(Text(printable("\n".join(lines))))

    @work(thread=True, exclusive=True, group="listening")
    def _listen(self, opens: Callable[[], LearnScreen | WatchScreen]) -> None:
        """Open a screen that listens to the kit; a port that cannot be opened is reported here."""
        try:
            screen = opens()
        except TrainerError as fault:
            words = printable(str(fault))
            call_on_screen(self, self.notify, words, severity="error", markup=False)
            return
        if not call_on_screen(self, self.app.push_screen, screen, self._heard):
            screen.monitor.close()

    def _heard(self, _nothing: None) -> None:
        """List the kits again: one may have been learned."""
        chosen, self.names = self.name_chosen, kits.names()
        options = self.query_one(OptionList)
        options.clear_options()
        options.add_options(Option(Text(printable(name))) for name in self.names)
        options.highlighted = self.names.index(chosen) if chosen in self.names else 0
        self._show_page()


def open_kits(app: App[Any], chosen: str = "") -> None:
    """Open the kits above the screen that is shown, with the cursor on one of them."""
    app.push_screen(KitsScreen(chosen))
