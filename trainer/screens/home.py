"""Home: what is connected, what was played last, and every command one key away.

It returns the words of the command that was chosen, as they would be typed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual import work
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.screen import Screen
from textual.widgets import Footer, Input, OptionList, Static
from textual.widgets.option_list import Option

from trainer.report import plain
from trainer.screens.base import TrainerApp

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult

    from trainer.archive.index import Entry as Played
    from trainer.pattern.files import Entry as Written

KEYS, SIMULATED = "keys", "simulated"


@dataclass(frozen=True, slots=True)
class Known:
    """What home shows: the MIDI inputs, the patterns, and the sessions, the oldest first."""

    ports: tuple[str, ...] = ()
    patterns: tuple[Written, ...] = ()
    sessions: tuple[Played, ...] = ()


class HomeScreen(Screen[None]):
    """The list of patterns, what is connected, what was played last."""

    GUIDE = (
        "Choose a pattern and press enter to practise it, or another key for something else to do "
        "with it. What you play on stands on the right; c changes it: a MIDI input, the computer "
        "keys, or a simulated player."
    )
    BINDINGS: ClassVar = [
        Binding("enter", "choose('play')", "Practise", id="practise"),
        Binding("g", "again", "Go on", tooltip="Go on where you left off", id="again"),
        Binding("l", "choose('ladder')", "Ladder", tooltip="Climb tempos", id="ladder"),
        Binding("s", "show", "Show the pattern as tab", show=False, id="show"),
        Binding("d", "choose('demo')", "Demo", show=False, tooltip="Watch it played", id="demo"),
        Binding("r", "plain('replay')", "Replay", tooltip="Replay the last session", id="replay"),
        Binding("h", "plain('history')", "History", id="history"),
        Binding("b", "browse", "Patterns", tooltip="Browse and compose patterns", id="browse"),
        Binding("k", "plain('kit')", "Kit", tooltip="Which pad is which", id="kit"),
        Binding("a", "plain('advice')", "Advice", show=False, id="advice"),
        Binding("o", "plain('ports')", "MIDI inputs and outputs", show=False, id="ports"),
        Binding("c", "change", "Change input", show=False, id="change"),
        Binding("slash", "find", "Find", key_display="/", show=False, id="find"),
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
                yield Static("", id="pattern", markup=False)
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
        self.query_one("#played", Static).update(last_words(known.sessions))

    def show_source(self) -> None:
        """Say what will be played on."""
        self.query_one("#connected", Static).update(source_words(self._home.source, self.known))

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
                options.add_option(Option(Text(plain(entry.title)), id=entry.name))
        last = self.known.sessions[-1].pattern if self.known.sessions else None
        names = [option.id for option in options.options]
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
                (plain(entry.title), "bold"),
                f"\nlevel {entry.level}" + (f", {plain(tags)}" if tags else ""),
                f"\n{plain(entry.about)}" if entry.about else "",
            )
        self.query_one("#pattern", Static).update(text)

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
        played = [one for one in self.known.sessions if one.tempos]
        names = {one.name for one in self.known.patterns}
        if not played or played[-1].pattern not in names:
            self.notify("Nothing to go on with yet.", severity="warning", markup=False)
            return
        last = played[-1]
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

    def action_change(self) -> None:
        """Play on the next thing there is to play on."""
        self._home.change_source(self.known)
        self.show_source()


class HomeApp(TrainerApp[list[str]]):
    """Home; `look_around` finds what it shows and may take its time."""

    def __init__(self, look_around: Callable[[], Known], source: str | None = None) -> None:
        super().__init__()
        self.source = source or ""
        self._picked = source is not None
        self._look_around = look_around
        self._looked = False
        self._offered = ""

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
        """Find what is there without holding the screen up."""
        known = self._look_around()
        self.call_from_thread(self.found, known)

    def found(self, known: Known) -> None:
        """Show it; a kit that was plugged in is chosen where nothing else was."""
        here = (*known.ports, KEYS, SIMULATED)
        if not self._picked or self.source not in here:
            self.source = here[0]
        came = [port for port in known.ports if port not in self.home.known.ports]
        for port in came if self._looked else ():
            self.offer(port)
        self._looked = True
        self.home.show(known)

    def offer(self, port: str) -> None:
        """Tell of a kit that was plugged in, and by which key it is played on."""
        chosen = port == self.source
        self._offered = "" if chosen else port
        then = "enter practises on it, c changes that" if chosen else "c plays on it"
        self.notify(f"{plain(port)} is connected: {then}.", timeout=OFFER_S, markup=False)

    def change_source(self, known: Known) -> None:
        """Go to the source that was offered just now, else to the next one."""
        sources = [*known.ports, KEYS, SIMULATED]
        at = sources.index(self.source) if self.source in sources else -1
        following = sources[(at + 1) % len(sources)]
        self.source = self._offered if self._offered in sources else following
        self._offered = ""
        self._picked = True


LOOK_S = 3.0

OFFER_S = 10.0
"""How long the offer of a kit that was plugged in stays."""


def source_words(source: str, known: Known) -> Text:
    """Return what is played on, and what else there is."""
    names = {KEYS: "the computer keys", SIMULATED: "a simulated player"}
    text = Text.assemble(("playing on ", "bold"), names.get(source, plain(source)))
    if not known.ports:
        text.append("\nno MIDI input is connected")
    return text.append("\nc changes it")


def last_words(sessions: tuple[Played, ...]) -> Text:
    """Return what was played last."""
    if not sessions:
        return Text("nothing played yet")
    last = sessions[-1]
    tempos = f" at {last.tempos[1]:g} BPM" if last.tempos else ""
    minutes = f"{last.seconds / 60:.0f} min" if last.seconds >= 120 else f"{last.seconds:.0f} s"
    return Text.assemble(
        ("last time ", "bold"),
        f"{last.started:%d %B %Y, %H:%M}",
        f"\n{plain(last.title)}{tempos}, {minutes}",
        "\ng goes on from there",
    )
