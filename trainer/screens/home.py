"""Home: what is connected, what was played last, and everything else one key away."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, ClassVar, Protocol

from rich.style import Style
from rich.text import Text
from textual import work
from textual.binding import Binding
from textual.containers import Horizontal, Vertical
from textual.screen import Screen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from trainer.actions.history import Known, continue_request
from trainer.actions.requests import (
    COMPUTER_KEYS,
    NO_PORT,
    SIMULATED_PLAYER,
    DemoRequest,
    setup_on,
)
from trainer.console import printable
from trainer.errors import TrainerError
from trainer.midi.port_names import input_to_use
from trainer.screens.common import KeyLine, call_on_screen
from trainer.screens.dialogs import key_names
from trainer.screens.trainer_app import TrainerApp
from trainer.screens.widgets.canvas import Canvas, FittedLines, Lines
from trainer.show import home_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from textual.app import ComposeResult

    from trainer.actions.requests import SessionRequest
    from trainer.archive.history import PractisedPattern
    from trainer.midi.pad_steering import PadSteering
    from trainer.pattern.library import PatternEntry
    from trainer.show.ink import Line

    Opens = Callable[[TrainerApp, str, str], object]
    """Opens a screen by its name, for what is played on."""


class Surroundings(Protocol):
    """What home looks at (`trainer.actions.history`)."""

    def look(self) -> Known:
        """Return what is connected, what was played and what there is to play."""
        ...

    def look_at_ports(self, known: Known) -> Known:
        """Return what is known with the inputs as they are now."""
        ...

    def close(self) -> None:
        """Let the ports go until the next look."""
        ...


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


def _beside(key: str, action: str, label: str, tooltip: str) -> Binding:
    """Return a key of the menu beside the patterns, not of the footer."""
    return Binding(
        key, action, label, tooltip=tooltip, show=False, id=label.lower().replace(" ", "-")
    )


class HomeScreen(Screen[None]):
    """The list of patterns, what is connected, what was played last."""

    GUIDE = (
        "Enter opens the pattern under the cursor, enter again plays. The list has those you "
        "practised last at the top. Beside each: its level, 1 to 5, the fastest tempo you "
        "played clean. And the day you played it last. What you play on is on the right; c "
        "changes it. It is a MIDI input, the keys, or a simulated player. Pads that are keys "
        "in the kit file steer here too: next moves down, toggle or resume opens. restart "
        "continues where you left off."
    )
    PADS: ClassVar = {"restart": "g", "quit": ""}
    BINDINGS: ClassVar = [
        Binding("enter", "play", "Practise", id="practise"),
        Binding("g", "continue", "Continue", tooltip="Continue where you left off", id="again"),
        Binding("l", "ladder", "Ladder", tooltip="Climb tempos", id="ladder"),
        Binding("r", "open('replay')", "Replay", tooltip="Replay the last session", id="replay"),
        Binding("h", "open('history')", "History", id="history"),
        Binding("b", "open('patterns')", "Patterns", tooltip="Browse and compose patterns"),
        Binding("k", "open('kit')", "Kit", tooltip="Which pad is which", id="kit"),
        _beside("n", "open('tonight')", "Tonight", "What is worth playing this evening, and why"),
        _beside("t", "open('routine')", "Routine", "Several blocks as one practice"),
        _beside("w", "open('way')", "Ways", "What leads from pattern to pattern"),
        _beside("a", "open('advice')", "Advice", "What to practise after the last session"),
        _beside("m", "open('goal')", "Goals", "Tempos you need, against your ceilings"),
        _beside("v", "open('compare')", "Compare", "Two sessions of one pattern side by side"),
        _beside("e", "open('explain')", "Explain", "What the numbers mean"),
        _beside("f", "open('assess')", "Check a take", "Check a take recorded elsewhere"),
        _beside("p", "open('sheet')", "Print", "Patterns as a page for the music stand"),
        _beside("u", "open('student')", "Students", "What they practised, and their week"),
        _beside("o", "open('ports')", "Ports", "MIDI inputs and outputs"),
        _beside("i", "open('timing')", "Timing", "How far times can be trusted here"),
        _beside("d", "demo", "Demo", "Watch the pattern being played"),
        _beside("s", "tab", "As tab", "Show the pattern as tab"),
        _beside("slash", "find", "Find", "Find patterns by a word"),
        _beside("c", "change", "Change input", "Play on something else"),
        Binding("escape", "all", "Show all patterns", show=False, id="all"),
        Binding("q", "app.close", "Quit", id="quit"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def __init__(
        self,
        around: Surroundings,
        opens: Opens | None = None,
        source: str = "",
        now: Callable[[], datetime] = lambda: datetime.now().astimezone(),
    ) -> None:
        """`opens` shows the screens that are not played; `source` is what is played on."""
        super().__init__()
        self.known, self.source = Known(), source
        self._around, self._opens = around, opens
        self._picked = bool(source)
        self._stale, self._looking, self._looked = True, False, False
        self._now = now
        self._wanted = ""
        self._practised: dict[str, PractisedPattern] = {}
        self._offered = ""
        self._steered: str | None = None

    def compose(self) -> ComposeResult:
        """Lay out patterns, what is connected, the last session, the week and the keys."""
        yield Static(home_words.top_line(None, None), id="heading", markup=False)
        with Horizontal(id="home"):
            with Vertical(id="choice"):
                yield Input(placeholder="find a pattern by name or tag", id="find")
                yield Lines(self._columns, id="columns")
                yield OptionList(id="patterns", markup=False)
            with Vertical(id="about"):
                yield FittedLines(self._side, id="side")
                yield Static(menu_text(self.BINDINGS), id="menu", markup=False)
        yield KeyLine()

    def on_mount(self) -> None:
        """Put the cursor on the patterns, and look around every few seconds."""
        self.query_one("#find").display = False
        self.query_one(OptionList).focus()
        self.set_interval(LOOK_S, self._look_now)

    def on_screen_resume(self) -> None:
        """Look at everything again: what was done meanwhile may have written files."""
        self._stale = True
        self._look_now()

    @work(thread=True, exclusive=True, group="look")
    def on_screen_suspend(self) -> None:
        """Let the ports go: what is played opens clients of its own."""
        self._around.close()

    def _look_now(self) -> None:
        # A look that takes its time is not given up for the next one.
        if self.is_current and not self._looking:
            self._looking = True
            self.look()

    @work(thread=True, exclusive=True, group="look")
    def look(self) -> None:
        """Find what is there without holding the screen up; files only where they may be new."""
        stale, self._stale = self._stale, False
        try:
            known = self._around.look() if stale else self._around.look_at_ports(self.known)
        except TrainerError as fault:
            call_on_screen(self, self._app.end_with, fault)
        else:
            call_on_screen(self, self.found, known)
        finally:
            self._looking = False

    def found(self, known: Known) -> None:
        """Show what was found; a kit that was plugged in is chosen where nothing else was."""
        here = (*known.ports, COMPUTER_KEYS, SIMULATED_PLAYER)
        if not self._picked or self.source not in here:
            usual = known.usual if known.usual in NO_PORT else ""
            self.source = usual or input_to_use(known.ports, self.source, COMPUTER_KEYS)
        came = [port for port in known.ports if port not in self.known.ports]
        for port in came if self._looked else ():
            self._offer(port)
        fresh = (known.patterns, known.sessions) != (self.known.patterns, self.known.sessions)
        self._looked, self.known = True, known
        self._steer()
        if fresh:
            self._practised = known.practised()
            self._list()
        self._redraw()

    def _redraw(self) -> None:
        for one in self.query(Canvas):
            one.redraw()

    def _side(self, columns: int, rows: int) -> Sequence[Line]:
        """Return input, last session, week, and the pattern under the cursor."""
        if not self._looked:
            return [(("looking around …", "faint"),)]
        return home_words.side_lines(
            self.known, self.source, self.chosen(), self._now().date(), (columns, rows)
        )

    def _columns(self, columns: int) -> Sequence[Line]:
        """Return the headings of the list."""
        del columns  # as wide as the rows below
        return [((" " + home_words.heading_row(self._row_width), "faint"),)]

    def on_resize(self) -> None:
        """Fit the rows into the new width."""
        self.call_after_refresh(self._list)

    def _offer(self, port: str) -> None:
        """Say that a kit was plugged in, and by which key it is played on."""
        chosen = port == self.source
        self._offered = "" if chosen else port
        then = "enter practises on it, c changes that" if chosen else "c plays on it"
        self.notify(f"{printable(port)} is connected: {then}.", timeout=OFFER_S, markup=False)

    def _steer(self) -> None:
        """Let the pads of what is played on be keys."""
        if self._steered != self.source and self.is_current:
            self._steered = self.source
            self._app.steer_by(self.steering(self.source))

    def steering(self, source: str) -> PadSteering | None:
        """Return the pads of a source that are keys."""
        from trainer.actions.playing_on import steering_of_port

        return steering_of_port(source)

    @property
    def _app(self) -> TrainerApp:
        assert isinstance(self.app, TrainerApp)
        return self.app

    @property
    def _row_width(self) -> int:
        """The columns of a row, a scroll bar beside it or not."""
        return max(14, self.query_one(OptionList).size.width - 2)

    def _list(self) -> None:
        """List the patterns that fit the word looked for: those practised last, then by title."""
        options = self.query_one(OptionList)
        before, last = self.chosen(), self.known.last
        width, today = self._row_width, self._now().date()
        rows = [
            Option(
                Text(home_words.pattern_row(one, self._practised.get(one.name), today, width)),
                id=one.name,
            )
            for one in home_words.in_order(self.known.patterns, self._practised, self._wanted)
        ]
        names = [option.id for option in rows]
        if not rows and self._wanted:
            rows = [Option(home_words.none_found(self._wanted), disabled=True)]
        options.set_options(rows)
        at = before.name if before else last.pattern if last else self.known.first
        options.highlighted = names.index(at) if at in names else 0 if names else None
        if not names:
            self.on_option_list_option_highlighted()

    def chosen(self) -> PatternEntry | None:
        """Return the pattern under the cursor."""
        option = self.query_one(OptionList).highlighted_option
        return next((one for one in self.known.patterns if option and one.name == option.id), None)

    def on_option_list_option_highlighted(self) -> None:
        """Show what the pattern under the cursor is, and what enter does."""
        chosen = self.chosen()
        first = next((one for one in self.known.patterns if one.name == self.known.first), None)
        self.query_one("#heading", Static).update(home_words.top_line(first, chosen))
        self.query_one("#side", FittedLines).redraw()

    def on_option_list_option_selected(self) -> None:
        """Practise the pattern that was chosen with enter or the mouse."""
        self.action_play()

    def on_input_changed(self, event: Input.Changed) -> None:
        """List what fits."""
        self._wanted = event.value
        self._list()

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

    def action_play(self) -> None:
        """Practise the pattern under the cursor."""
        self._choose(ladder=False)

    def action_ladder(self) -> None:
        """Climb the pattern under the cursor."""
        self._choose(ladder=True)

    def _choose(self, *, ladder: bool) -> None:
        """Ask how the pattern under the cursor is to be played, then play it."""
        from trainer.actions.choices import LADDER, STEADY
        from trainer.screens.before_playing import BeforePlayingScreen

        if not (entry := self._readable()):
            return

        def start(request: SessionRequest | None) -> None:
            if request:
                self.source = request.setup.played_on.port
                self._app.play(request)

        asked = BeforePlayingScreen(
            entry.name, entry.title, self.source, LADDER if ladder else STEADY
        )
        self._app.push_screen(asked, start)

    def action_demo(self) -> None:
        """Watch the pattern under the cursor being played."""
        if entry := self._readable():
            self._app.play(DemoRequest(entry.name))

    def action_continue(self) -> None:
        """Continue with what was played last on this input: its ladder, or at its last tempo."""
        last = self.known.to_continue(self.source)
        if last is None or not self.known.can_open(last.pattern):
            self.notify("Nothing to continue with yet.", severity="warning", markup=False)
            return
        self._app.play(continue_request(last, setup_on(self.source)))

    def _readable(self) -> PatternEntry | None:
        """Return the pattern under the cursor; say so where there is none."""
        entry = self.chosen()
        if entry is None:
            self.notify("There is no pattern to choose.", severity="warning", markup=False)
        return entry

    def action_tab(self) -> None:
        """Show the pattern under the cursor as tab."""
        if entry := self._readable():
            self._open("tab", entry.name)

    def action_open(self, name: str) -> None:
        """Open the screen of that name."""
        self._open(name, self.source)

    def _open(self, name: str, port: str) -> None:
        from trainer.screens.pages import open_screen

        try:
            (self._opens or open_screen)(self._app, name, port)
        except TrainerError as fault:
            self._app.report(fault)

    def action_change(self) -> None:
        """Play on the source that was offered just now, else on the next one there is."""
        sources = [*self.known.ports, COMPUTER_KEYS, SIMULATED_PLAYER]
        at = sources.index(self.source) if self.source in sources else -1
        following = sources[(at + 1) % len(sources)]
        self.source = self._offered if self._offered in sources else following
        self._offered, self._picked = "", True
        self._steer()
        self._redraw()


LOOK_S, OFFER_S = 3.0, 10.0
"""How often home looks around, and how long the offer of a kit that was plugged in stays."""
