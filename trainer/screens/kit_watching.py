"""Watching a kit: every message in words and bytes, how hard, and how long after the one before."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Footer

from trainer.console import printable
from trainer.kit import kits
from trainer.midi import midi_message
from trainer.midi.kit_input import KitMonitor, MidiSource
from trainer.screens import common
from trainer.screens.widgets.canvas import Lines
from trainer.show import message_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from trainer.kit.model import Kit
    from trainer.midi.kit_input import TimedMessage
    from trainer.show.ink import Line

LOOK_S = 1 / 30
MOST = 500
"""Messages that are kept to be looked at again."""

BAR = 12
"""Width of the velocity bar: with it the longest message fits into 80 columns."""


class WatchScreen(Screen[None]):
    """The newest messages, the last one at the bottom; holding keeps them still."""

    GUIDE = (
        "Every message the kit sends, the newest at the bottom: the time since the one before, its "
        "bytes, what it says, and for a stroke its velocity as a bar. Two strokes a few "
        "milliseconds apart where you played one are a double trigger, or one pad shaking another: "
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
        yield Footer(show_command_palette=False)

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
        told = f"   {self._count} message{'' if self._count == 1 else 's'}"
        told += "   without clock and active sensing" * (not self.steady)
        told += f"   {self.monitor.dropped} too many to show" * bool(self.monitor.dropped)
        held: Line = (("   ", "plain"), (" held ", "alert")) if self.held else ()
        return (*(gone if self.monitor.lost else here), (told, "plain"), *held)

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
        (f"{message_words.message_bytes(heard.message):<9}", "plain"),
        (f"{message_words.velocity_bar(heard.message, BAR):<{BAR}} ", "centre"),
        (printable(message_words.message_words(heard.message, kit)), "strong"),
    )
