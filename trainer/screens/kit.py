"""The kits: a list of them, one page about each, and the ways to learning and watching."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual import work
from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.screen import Screen
from textual.widgets import Footer, OptionList, Static
from textual.widgets.option_list import Option

from trainer.console import printable
from trainer.errors import BadInput, TrainerError
from trainer.kit import kits
from trainer.kit.model import GENERAL_MIDI
from trainer.kit.survey import check_page
from trainer.screens import common
from trainer.screens.common import call_on_screen
from trainer.screens.dialogs import AskScreen
from trainer.screens.kit_learning import LearnScreen
from trainer.screens.kit_watching import WatchScreen
from trainer.screens.page_screen import open_page
from trainer.screens.pages_kit import kit_pages

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from textual.app import App, ComposeResult

    from trainer.show.page import Page


class KitsScreen(Screen[None]):
    """The list of kits and the page of the one under the cursor."""

    GUIDE = (
        "Your kits, and the one that ships. The page says what is set, what is missing and what "
        "looks wrong. l learns which pad sends which note, strike by strike; w shows every message "
        "as it comes. Of the kit under the cursor, m measures doubles, crosstalk and power, c "
        "learns its controllers, and t shows how late it is and sets that."
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
        yield Footer(show_command_palette=False)

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
        """Ask for a name and learn a kit under it."""
        own = self.name_chosen != GENERAL_MIDI.name
        known = self.name_chosen if own else ""

        def learn(name: str | None) -> None:
            if name:
                self._listen(partial(LearnScreen.of_port, name))

        question = "Learn a kit under the name"
        self.app.push_screen(AskScreen(question, known, kit_name_refusal), learn)

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


def kit_name_refusal(name: str) -> str:
    """Return why a kit cannot have a name, or nothing."""
    try:
        kits.check_name(name)
    except BadInput as fault:
        return str(fault)
    return ""
