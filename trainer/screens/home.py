"""Home: what is connected, what was played last, and every command one key away.

It returns the words of the command that was chosen, as they would be typed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar

from rich.style import Style
from rich.text import Text
from textual import work
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.screen import Screen
from textual.widgets import Footer, Input, OptionList, Static
from textual.widgets.option_list import Option

from trainer.console import printable
from trainer.screens import page_screen
from trainer.screens.common import call_on_screen
from trainer.screens.dialogs import key_names
from trainer.screens.trainer_app import TrainerApp

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from textual.app import ComposeResult

    from trainer.archive.session_list import SessionEntry as Played
    from trainer.midi.pad_steering import PadSteering
    from trainer.pattern.library import PatternEntry as Written
    from trainer.show.page import Page


COMPUTER_KEYS, SIMULATED_PLAYER = "keys", "simulated"


def source_text(source: str, known: Known) -> Text:
    """Return what is played on, and what else there is."""
    names = {COMPUTER_KEYS: "the computer keys", SIMULATED_PLAYER: "a simulated player"}
    text = Text.assemble(("playing on ", "bold"), names.get(source, printable(source)))
    if not known.ports:
        text.append("\nno MIDI input is connected")
    return text.append("\nc changes it")


def menu_text(bindings: Iterable[object], across: int = 2) -> Text:
    """Return the keys that the footer does not show, in columns, each to be clicked as well."""
    keys = [one for one in bindings if isinstance(one, Binding)]
    beside = [one for one in keys if not one.show and one.action != "all"]
    down = -(-len(beside) // across)
    text = Text()
    for row in (beside[at::down] for at in range(down)):
        for one in row:
            name = key_names(one)
            style = Style(meta={"@click": f"screen.{one.action}"})
            text.append(f"{name} ", Style(bold=True) + style)
            text.append(one.description.ljust(MENU_COLUMNS - len(name) - 1), style)
        text.append("\n")
    text.rstrip()
    return text


MENU_COLUMNS = 15


def last_played_text(last: Played | None) -> Text:
    """Return what was played last."""
    if last is None:
        return Text("nothing played yet")
    tempos = f" at {last.tempos[1]:g} BPM" if last.tempos else ""
    minutes = f"{last.seconds / 60:.0f} min" if last.seconds >= 120 else f"{last.seconds:.0f} s"
    return Text.assemble(
        ("last time ", "bold"),
        f"{last.started:%d %B %Y, %H:%M}",
        f"\n{printable(last.title)}{tempos}, {minutes}",
        "\ng goes on from there",
    )


@dataclass(frozen=True, slots=True)
class Known:
    """What home shows: the MIDI inputs, the patterns, and the sessions, the oldest first."""

    ports: tuple[str, ...] = ()
    patterns: tuple[Written, ...] = ()
    sessions: tuple[Played, ...] = ()

    @property
    def last(self) -> Played | None:
        """The last session in which a stroke was played."""
        return next((one for one in reversed(self.sessions) if one.played and one.tempos), None)


def _beside(key: str, action: str, label: str, tooltip: str) -> Binding:
    """Return a key that stands in the menu beside the patterns, not in the footer."""
    return Binding(
        key, action, label, tooltip=tooltip, show=False, id=label.lower().replace(" ", "-")
    )


class HomeScreen(Screen[None]):
    """The list of patterns, what is connected, what was played last."""

    GUIDE = (
        "Choose a pattern and press enter to practise it, or another key for something else to do. "
        "What you play on stands on the right; c changes it: a MIDI input, the computer keys, or a "
        "simulated player. Pads that the kit file makes keys steer here too: next moves down, "
        "toggle or resume practises, restart goes on where you left off."
    )
    PADS: ClassVar = {"restart": "g", "quit": ""}
    BINDINGS: ClassVar = [
        Binding("enter", "choose('play')", "Practise", id="practise"),
        Binding("g", "again", "Go on", tooltip="Go on where you left off", id="again"),
        Binding("l", "choose('ladder')", "Ladder", tooltip="Climb tempos", id="ladder"),
        Binding("r", "plain('replay')", "Replay", tooltip="Replay the last session", id="replay"),
        Binding("h", "plain('history')", "History", id="history"),
        Binding("b", "browse", "Patterns", tooltip="Browse and compose patterns", id="browse"),
        Binding("k", "plain('kit')", "Kit", tooltip="Which pad is which", id="kit"),
        _beside("t", "page('routine')", "Routine", "A sitting of several blocks"),
        _beside("a", "page('advice')", "Advice", "What the last session says is worth practising"),
        _beside("m", "page('goal')", "Goals", "What pieces ask for, against your ceilings"),
        _beside("v", "page('compare')", "Compare", "Two sessions of one pattern side by side"),
        _beside("e", "page('explain')", "Explain", "What the numbers mean"),
        _beside("f", "page('assess')", "Check a take", "Check a take recorded elsewhere"),
        _beside("p", "page('sheet')", "Print", "Patterns as a page for the music stand"),
        _beside("o", "page('ports')", "Ports", "MIDI inputs and outputs"),
        _beside("i", "page('timing')", "Timing", "How far times can be trusted here"),
        _beside("d", "choose('demo')", "Demo", "Watch the pattern being played"),
        _beside("s", "show", "As tab", "Show the pattern as tab"),
        _beside("slash", "find", "Find", "Find patterns by a word"),
        _beside("c", "change", "Change input", "Play on something else"),
        Binding("escape", "all", "Show all patterns", show=False, id="all"),
        Binding("q", "app.quit", "Quit", id="quit"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def compose(self) -> ComposeResult:
        """Lay out patterns, what is connected, the last session and the keys."""
        yield Static("Kit trainer: enter practises the pattern chosen", id="heading", markup=False)
        with Horizontal(id="home"):
            with Vertical(id="choice"):
                yield Input(placeholder="find a pattern by name or tag", id="find")
                yield OptionList(id="patterns", markup=False)
            with Vertical(id="about"):
                yield Static("looking around …", id="connected", markup=False)
                yield Static("", id="played", markup=False)
                yield Static("", id="told", markup=False)
                yield Static(menu_text(self.BINDINGS), id="menu", markup=False)
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Put the cursor on the patterns, and look around now and every few seconds."""
        self.known = Known()
        self.query_one("#find").display = False
        self.query_one(OptionList).focus()
        self._home.look()
        self.set_interval(LOOK_S, self._home.look)

    def show(self, known: Known) -> None:
        """Show what was found."""
        fresh = known.patterns != self.known.patterns
        self.known = known
        if fresh:
            self._list("")
        self.show_source()
        self.query_one("#played", Static).update(last_played_text(known.last))

    def show_source(self) -> None:
        """Say what will be played on."""
        self.query_one("#connected", Static).update(source_text(self._home.source, self.known))

    @property
    def _home(self) -> HomeApp:
        assert isinstance(self.app, HomeApp)
        return self.app

    def _list(self, wanted: str) -> None:
        """List the patterns whose name, title or tags hold a word."""
        options = self.query_one(OptionList)
        options.clear_options()
        for entry in self.known.patterns:
            about = " ".join((entry.name, entry.title, *entry.tags)).lower()
            if not entry.fault and wanted.lower() in about:
                options.add_option(Option(Text(printable(entry.title)), id=entry.name))
        names = [option.id for option in options.options]
        last = self.known.last.pattern if self.known.last else None
        options.highlighted = names.index(last) if last in names else 0 if names else None

    def chosen(self) -> Written | None:
        """Return the pattern under the cursor."""
        option = self.query_one(OptionList).highlighted_option
        found = [one for one in self.known.patterns if option and one.name == option.id]
        return found[0] if found else None

    def on_option_list_option_highlighted(self) -> None:
        """Tell about the pattern under the cursor."""
        entry = self.chosen()
        text = Text()
        if entry:
            tags = ", ".join(entry.tags)
            text = Text.assemble(
                (printable(entry.title), "bold"),
                f"\nlevel {entry.level}" + (f", {printable(tags)}" if tags else ""),
                f"\n{printable(entry.about)}" if entry.about else "",
            )
        self.query_one("#told", Static).update(text)

    def on_option_list_option_selected(self) -> None:
        """Practise the pattern that was chosen with enter or the mouse."""
        self.action_choose("play")

    def on_input_changed(self, event: Input.Changed) -> None:
        """List what fits."""
        self._list(event.value)

    def on_input_submitted(self) -> None:
        """Go back to the list."""
        self.query_one(OptionList).focus()

    def action_find(self) -> None:
        """Type a word to find patterns by."""
        self.query_one("#find").display = True
        self.query_one("#find").focus()

    def action_all(self) -> None:
        """Show all patterns again."""
        field = self.query_one("#find", Input)
        field.value = ""
        field.display = False
        self.query_one(OptionList).focus()

    def action_choose(self, command: str) -> None:
        """Do something with the pattern under the cursor."""
        entry = self.chosen()
        if entry is None:
            self.notify("There is no pattern to choose.", severity="warning", markup=False)
            return
        words = [command, entry.name]
        self._home.exit(words if command == "demo" else [*words, "--port", self._home.source])

    def action_again(self) -> None:
        """Go on with the last pattern, at its last tempo."""
        last = self.known.last
        if last is None or last.pattern not in {one.name for one in self.known.patterns}:
            self.notify("Nothing to go on with yet.", severity="warning", markup=False)
            return
        tempo = f"{last.tempos[1] if last.tempos else 0:g}"
        self._home.exit(["play", last.pattern, "--tempo", tempo, "--port", self._home.source])

    def action_show(self) -> None:
        """Print the pattern as tab."""
        entry = self.chosen()
        if entry:
            self._home.exit(["patterns", "show", entry.name])

    def action_browse(self) -> None:
        """Look through the patterns, with what is played on."""
        self._home.exit(["patterns", "browse", "--port", self._home.source])

    def action_plain(self, command: str) -> None:
        """Run a command that needs no pattern."""
        self._home.exit([command])

    def action_page(self, name: str) -> None:
        """Open the page of a command."""
        self._home.open_page(name)

    def action_change(self) -> None:
        """Play on the next thing there is to play on."""
        self._home.change_source(self.known)
        self.show_source()


class HomeApp(TrainerApp[list[str]]):
    """Home; `look_around` finds what it shows and may take its time, `ports` the inputs alone.

    `page_of` makes the page of a command for what is played on, `steering` tells the pads that are
    keys there; `opens` is a page to begin with.
    """

    def __init__(
        self,
        look_around: Callable[[], Known],
        source: str | None = None,
        *,
        ports: Callable[[], tuple[str, ...]] | None = None,
        page_of: Callable[[str, str], Page] | None = None,
        steering: Callable[[str], PadSteering | None] = lambda _source: None,
        opens: str = "",
    ) -> None:
        super().__init__()
        self.source = source or ""
        self.opened = opens
        self._picked = source is not None
        self._looked = False
        self._offered = ""
        self._ports = ports
        self._stale = True
        self._look_around, self._page_of, self._steering = look_around, page_of, steering
        self._steered: str | None = None

    @property
    def picked(self) -> str | None:
        """What the player chose to play on, None where it was left to the program."""
        return self.source if self._picked else None

    def get_default_screen(self) -> HomeScreen:
        """Begin with home."""
        self.home = HomeScreen()
        return self.home

    @work(thread=True, exclusive=True)
    def look(self) -> None:
        """Find what is there without holding the screen up; files only where they may be new."""
        if self._ports and not self._stale:
            known = replace(self.home.known, ports=self._ports())
        else:
            self._stale = False
            known = self._look_around()
        call_on_screen(self.home, self.found, known)

    def found(self, known: Known) -> None:
        """Show it; a kit that was plugged in is chosen where nothing else was."""
        here = (*known.ports, COMPUTER_KEYS, SIMULATED_PLAYER)
        if not self._picked or self.source not in here:
            self.source = here[0]
        came = [port for port in known.ports if port not in self.home.known.ports]
        for port in came if self._looked else ():
            self.offer(port)
        self._looked = True
        self._steer()
        self.home.show(known)
        if self.opened and self.screen is self.home:
            self.open_page(self.opened)

    def open_page(self, name: str) -> None:
        """Open the page of a command; it is the one to come back to until it is closed."""
        if self._page_of:
            self.opened = name
            self.push_screen(
                page_screen.screen_of_page(self._page_of(name, self.source)), self._page_closed
            )

    def _page_closed(self, _nothing: None) -> None:
        """Look at the files again: a page may have written some."""
        self.opened, self._stale = "", True
        self.look()

    def offer(self, port: str) -> None:
        """Tell of a kit that was plugged in, and by which key it is played on."""
        chosen = port == self.source
        self._offered = "" if chosen else port
        then = "enter practises on it, c changes that" if chosen else "c plays on it"
        self.notify(f"{printable(port)} is connected: {then}.", timeout=OFFER_S, markup=False)

    def change_source(self, known: Known) -> None:
        """Go to the source that was offered just now, else to the next one."""
        sources = [*known.ports, COMPUTER_KEYS, SIMULATED_PLAYER]
        at = sources.index(self.source) if self.source in sources else -1
        following = sources[(at + 1) % len(sources)]
        self.source = self._offered if self._offered in sources else following
        self._offered = ""
        self._picked = True
        self._steer()

    def _steer(self) -> None:
        """Let the pads of what is played on be keys."""
        if self._steered != self.source:
            self._steered = self.source
            self.steer_by(self._steering(self.source))


LOOK_S = 3.0

OFFER_S = 10.0
"""How long the offer of a kit that was plugged in stays."""
