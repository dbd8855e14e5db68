"""The kits: a list of them, one page about each, and the ways to learning and watching."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.screen import Screen
from textual.widgets import Footer, OptionList, Static
from textual.widgets.option_list import Option

from trainer.console import printable
from trainer.errors import BadInput
from trainer.kit import kits
from trainer.kit.model import GENERAL_MIDI
from trainer.kit.survey import check_page
from trainer.screens import page_screen
from trainer.screens.dialogs import AskScreen
from trainer.screens.kit_learning import LearnScreen
from trainer.screens.kit_watching import WatchScreen
from trainer.screens.trainer_app import TrainerApp

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from textual.app import ComposeResult

    from trainer.kit.learning import Learning
    from trainer.kit.model import Kit
    from trainer.midi.kit_input import KitMonitor
    from trainer.show.page import Page


class KitsScreen(Screen[None]):
    """The list of kits and the page of the one under the cursor."""

    GUIDE = (
        "Your kits, and the one that ships. The page says what is set, what is missing and what "
        "looks wrong. l learns which pad sends which note, strike by strike; w shows every message "
        "as it comes. Of the kit under the cursor, m measures doubles, crosstalk and power, c "
        "learns its controllers, and t tells how late it is and sets that."
    )
    BINDINGS: ClassVar = [
        Binding("l", "learn", "Learn", tooltip="Strike each pad in turn", id="learn"),
        Binding("w", "watch", "Watch", tooltip="See every message as it comes", id="watch"),
        Binding("m", "open('survey')", "Measure", tooltip="Doubles, crosstalk and power"),
        Binding("c", "open('controllers')", "Controllers", tooltip="Learn pedal, places, chokes"),
        Binding("t", "open('latency')", "Latency", tooltip="How late it is: measure it, or set it"),
        Binding("q,escape", "app.quit", "Close", key_display="q", id="close"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def __init__(self, chosen: str = "") -> None:
        super().__init__()
        self.names = kits.names()
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
        """Put the cursor on the kit in use."""
        options = self.query_one(OptionList)
        options.focus()
        options.highlighted = self.names.index(self._chosen) if self._chosen in self.names else 0

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
        self.app.push_screen(
            AskScreen(
                "Learn a kit under the name", self.name_chosen if own else "", kit_name_refusal
            ),
            lambda name: self._choose("learn", name) if name else None,
        )

    def action_watch(self) -> None:
        """Watch what comes in."""
        self._choose("watch")

    def action_open(self, action: str) -> None:
        """Measure something of the kit under the cursor, one of the player's own."""
        if self.name_chosen == GENERAL_MIDI.name:
            self.notify("Learn your own kit first.", severity="warning", markup=False)
        elif isinstance(self.app, KitsApp):
            measured = self.app.pages(self.name_chosen)[action]
            self.app.push_screen(page_screen.screen_of_page(measured), lambda _: self._show_page())

    def _show_page(self) -> None:
        """Show the page of the kit under the cursor."""
        try:
            lines = [*check_page(kit := kits.load(self.name_chosen), kits.kits_on_same_port(kit))]
        except BadInput as fault:
            lines = [self.name_chosen, "", *str(fault).splitlines()]
        self.query_one("#page Static", Static).update(Text(printable("\n".join(lines))))

    def _choose(self, *words: str) -> None:
        self.app.exit(["kit", *words])


class KitsApp(TrainerApp[list[str]]):
    """The kits; it ends with the words of the command that was chosen.

    `pages` makes what is measured of a kit, by its name, as pages by the action of `trainer kit`.
    """

    def __init__(
        self, chosen: str = "", pages: Callable[[str], Mapping[str, Page]] = lambda _name: {}
    ) -> None:
        super().__init__()
        self._chosen, self.pages = chosen, pages

    def get_default_screen(self) -> KitsScreen:
        """Begin with the list."""
        self.kits = KitsScreen(self._chosen)
        return self.kits


class EarApp(TrainerApp[None]):
    """One screen that hears a kit, for some seconds where so many are given."""

    def __init__(self, screen: LearnScreen | WatchScreen, seconds: float | None = None) -> None:
        super().__init__()
        self.hearing, self._seconds = screen, seconds

    def on_mount(self) -> None:
        """End in time."""
        if self._seconds is not None:
            self.set_timer(self._seconds, self.exit)

    def get_default_screen(self) -> Screen[None]:
        """Begin with that screen."""
        return self.hearing


def learn_app(ear: KitMonitor, learning: Learning) -> EarApp:
    """Return the app that learns a kit; `learning` holds what is known, however it ends."""
    return EarApp(LearnScreen(ear, learning))


def watch_app(ear: KitMonitor, kit: Kit, seconds: float | None = None) -> EarApp:
    """Return the app that watches what a kit sends, for some seconds or until the player leaves."""
    return EarApp(WatchScreen(ear, kit), seconds)


def kit_name_refusal(name: str) -> str:
    """Return why a kit cannot have a name, or nothing."""
    try:
        kits.check_name(name)
    except BadInput as fault:
        return str(fault)
    return ""
