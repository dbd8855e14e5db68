"""The app: every screen is pushed and popped in it, from the first one to the last.

Home, or the screen that a command opens, is the first one; when it is left, the app ends. Playing
is asked of the app (`play`): it holds the session while screens come and go, and keeps it for lines
of text should a screen fail.
"""

from __future__ import annotations

import asyncio
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual._compositor import ChopsUpdate
from textual.app import App
from textual.binding import Binding
from textual.css.query import NoMatches
from textual.events import Key
from textual.filter import NoColor
from textual.message import Message
from textual.screen import ModalScreen, Screen

from trainer import console
from trainer.errors import Failure
from trainer.fault_report import reported
from trainer.midi.pad_steering import PRESSES, PadListener
from trainer.midi.ports import separate_stderr
from trainer.screens.common import PadStruck
from trainer.screens.dialogs import ChooseScreen, MessageScreen, help_of, key_names
from trainer.screens.themes import NIGHT, SIXTEEN, THEMES

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Sequence

    from rich.console import RenderableType
    from textual.events import Event

    from trainer.actions.hard_spot import HardSpotRequest
    from trainer.actions.prepare import Practice
    from trainer.actions.requests import Request
    from trainer.actions.routine import RoutineRun
    from trainer.engine.process import Handle
    from trainer.errors import TrainerError
    from trainer.midi.pad_steering import PadSteering
    from trainer.practice.events import Finished
    from trainer.show.session_progress import SessionFrame

    First = Screen[Any] | Callable[["TrainerApp"], object]
    Plays = Callable[["TrainerApp", Any], Awaitable[None]]

FEWEST_COLOURS = 8
"""A terminal of fewer colours shows letters, light and dark alone."""

HOLD_S = 0.3
"""How long keys are passed over after a screen came that the player did not expect just then.

Less than a hand needs to read and answer, more than the last strokes of keys that are drums take.
"""


@dataclass(slots=True)
class Playing:
    """A session that runs: all that lines of text need to continue it should the screen fail.

    `finished` is set with its end. `ended` hears of the end before anybody has read the summary.
    """

    practice: Practice
    handle: Handle
    frame: SessionFrame
    ended: Callable[[Finished], object]
    finished: Finished | None = None

    def end(self) -> None:
        """End it; the session is saved and its summary follows."""
        from trainer.practice.events import Command

        self.handle.send(Command("quit"))


class BottomScreen(Screen[None]):
    """The screen below the first one: it opens that, and ends the app once that is left."""

    def __init__(self, first: First | None) -> None:
        super().__init__()
        self._first = first

    def on_screen_resume(self) -> None:
        """Open the first screen, then end."""
        assert isinstance(self.app, TrainerApp)
        first, self._first = self._first, None
        if first is None:
            self.app.end_at_bottom()
        elif isinstance(first, Screen):
            self.app.push_screen(first)
        else:
            first(self.app)


class TrainerApp(App[None]):
    """The one app; `first` is the screen it begins with, or what opens that.

    `plays` plays a request and returns when its last screen is left.

    `fault` is what a command could not do, `remarks` are lines for the terminal at its end, and
    `sessions` what was played. `playing` and `routine` are what runs just now.
    """

    CSS_PATH = Path(__file__).with_name("trainer.tcss")
    TITLE = "kit trainer"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar = [Binding("ctrl+p", "commands", "Keys by name", show=False)]

    def __init__(self, first: First, plays: Plays | None = None) -> None:
        super().__init__()
        self._first, self._plays = first, plays
        if os.environ.get("NO_COLOR") or console.colour_count() < FEWEST_COLOURS:
            # Textual would draw in greys, which are colours too, and unknown to such a terminal.
            self._filters = [NoColor()]
            self.add_class("-letters")
        self.failure: Failure | None = None
        self.fault: TrainerError | None = None
        self.remarks: list[str] = []
        self.sessions: list[Finished] = []
        self.playing: Playing | None = None
        self.routine: RoutineRun | None = None
        self._one_at_a_time = asyncio.Lock()
        self._to_play = 0
        self._keys_from_s = 0.0
        self.HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (112, "-wide")]
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = SIXTEEN.name if self.console.color_system == "standard" else NIGHT.name
        wanted = os.environ.get("TEXTUAL_THEME", "")
        if wanted in self.available_themes:
            self.theme = wanted
        self._pads: PadListener | None = None
        self._steering: PadSteering | None = None

    def get_default_screen(self) -> BottomScreen:
        """Lay the bottom, which opens the first screen."""
        return BottomScreen(self._first)

    @property
    def bottom(self) -> Screen[Any]:
        """The first screen, or what took its place: the app ends with it."""
        return self.screen_stack[min(1, len(self.screen_stack) - 1)]

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our own colours for themes that do not know them."""
        return dict(NIGHT.variables)

    def run(self, *args: Any, **more: Any) -> None:
        """Run on the terminal; what libraries write there on their own never meets the screen.

        Raises Failure with one sentence where the screen failed, and the fault that `end_with` was
        given, once the terminal is as it was.
        """
        with separate_stderr(), console.HANG_UP.ending(self._terminal_closed):
            super().run(*args, **more)
        if ended_by := self.failure or self.fault:
            raise ended_by

    def on_unmount(self) -> None:
        """Let pads and practice loop go: it saves what it has. After a failure it plays on."""
        self.let_pads_go()
        if self.playing and not self.failure:
            self.playing.handle.close()

    # Playing

    def play(self, request: Request | HardSpotRequest) -> None:
        """Play a request, and come back to the screen that is on top now."""
        self._to_play += 1
        self.run_worker(self._play(request), name="play")

    async def _play(self, request: Request | HardSpotRequest) -> None:
        assert self._plays, "this app was made without what plays"
        async with self._one_at_a_time:
            steering = self._steering
            # The practice loop hears the kit now; some systems lend a port to one client only.
            self.steer_by(None)
            try:
                await self._plays(self, request)
            finally:
                self._to_play -= 1
        if self.is_running:
            self.steer_by(steering)
        self.end_at_bottom()

    def end_at_bottom(self) -> None:
        """End where the first screen was left, and nothing is to follow."""
        if isinstance(self.screen, BottomScreen) and not self._to_play:
            self.exit(return_code=self.return_code or 0)

    def report(self, fault: TrainerError, remarks: Sequence[str] = ()) -> None:
        """Say what could not be done: on a screen, or where nothing is below, at the end."""
        if isinstance(self.screen, BottomScreen):
            self.remarks += remarks
            self.end_with(fault)
        else:
            self.push_screen(MessageScreen([*str(fault).splitlines(), *remarks]))

    def end_with(self, fault: TrainerError) -> None:
        """End because what a command opens cannot be shown; `run` raises the fault."""
        self.fault = fault
        self.exit(return_code=fault.status)

    def put_in_place(self, old: Screen[Any], new: Screen[Any]) -> asyncio.Future[Any]:
        """Close a screen, with all above it, and show another one; return what that is left with.

        Keys that were meant for the old one are passed over. Called in a worker.
        """
        while old in self.screen_stack:
            self.pop_screen()
        self.hold_keys()
        return self.push_screen(new, wait_for_dismiss=True)

    # Keys and pads

    def hold_keys(self) -> None:
        """Pass over keys for a moment: a screen came that the player did not expect just then."""
        self._keys_from_s = Message().time + HOLD_S

    async def on_event(self, event: Event) -> None:
        """Pass over keys that were meant for a screen that is gone."""
        if not (isinstance(event, Key) and event.time < self._keys_from_s):
            await super().on_event(event)

    def let_pads_go(self) -> None:
        """Let no pad be a key: whoever listens to the kit now wants its port alone."""
        if self._pads:
            self._pads.close()
            self._pads = None

    def take_pads_back(self) -> None:
        """Let the pads be keys again, as before they were let go."""
        self.steer_by(self._steering)

    def steer_by(self, steering: PadSteering | None) -> None:
        """Let the pads of a kit press keys from now on, in place of those before; None for none."""
        self.let_pads_go()
        self._steering = steering

        def struck(command: str) -> None:
            self.post_message(PadStruck(command))

        self._pads = PadListener(steering, struck) if steering else None

    def on_pad_struck(self, struck: PadStruck) -> None:
        """Press the key that a pad plays on the screen that is shown."""
        own: dict[str, str] = getattr(self.screen, "PADS", {})
        if key := {**PRESSES, **own}.get(struck.command):
            self.simulate_key(key)

    def action_commands(self) -> None:
        """Offer every key of the screen by its name, and the colours."""
        screen = self.screen
        if isinstance(screen, ModalScreen):
            return
        bindings = [one for one in type(screen).BINDINGS if isinstance(one, Binding)]
        keys = {one.tooltip or one.description: one for one in bindings}
        pressed = {
            name: " ".join(key_names(one) for one in bindings if one.action == kept.action)
            for name, kept in keys.items()
        }
        looks = {f"Colours: {theme.name}": theme.name for theme in THEMES}
        choices = [*pressed.items(), *((name, "") for name in looks)]

        def do(name: str | None) -> None:
            if name in looks:
                self.theme = looks[name]
            elif name:
                screen.call_later(self.run_action, keys[name].action, screen)

        self.push_screen(ChooseScreen("What to do", choices, typed=True), do)

    def action_help_quit(self) -> None:
        """Say how to leave; screens that are played on take this key themselves."""
        self.notify("q closes this screen, ctrl+q quits.", markup=False)

    def action_help(self) -> None:
        """Show the help of the screen."""
        self.push_screen(help_of(self.screen))

    async def action_close(self) -> None:
        """Close the screen on top; with the first one the app ends."""
        if len(self.screen_stack) > 1:
            self.screen.dismiss()

    async def action_quit(self) -> None:
        """Quit; a session that still runs is ended and saved first, and its summary shown."""
        if self.playing and not self.playing.finished:
            self.playing.end()
        else:
            self.exit()

    # Ends and failures

    def on_load(self) -> None:
        """Notice when something fails outside of a message."""
        self._turns = asyncio.get_running_loop()
        self._turns.set_exception_handler(self._failed_outside)

    def _terminal_closed(self) -> None:
        """End at once, asked from another thread; the engine sees its pipe close and saves."""
        self._turns.call_soon_threadsafe(lambda: self.exit(return_code=console.CLOSED))

    def _failed_outside(self, _loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        """End on a failure that asyncio alone would write over the screen and forget."""
        error = context.get("exception")
        if isinstance(error, Exception) and self.is_running:
            self._handle_exception(error)

    def _handle_exception(self, error: Exception) -> None:
        """End, but not over a screen that misses its parts because it is being taken down."""
        leaving = self._exit or not self.is_running
        if not (leaving and isinstance(error, NoMatches)):
            super()._handle_exception(error)

    def _display(self, screen: Screen[Any], renderable: RenderableType | None) -> None:
        """Draw what has changed, without lines that a window made smaller meanwhile has lost."""
        if isinstance(renderable, ChopsUpdate):
            renderable = within_window(renderable)
        super()._display(screen, renderable)

    def _fatal_error(self) -> None:
        """Leave the screen with one sentence; Textual would print pages of a traceback."""
        if self.failure is None:
            self.failure = screen_failure(self._exception)
        self._close_messages_no_wait()


def within_window(update: ChopsUpdate) -> ChopsUpdate | None:
    """Return an update without the lines below the window; None where none is left.

    Textual draws the lines of widgets where they were before the window became smaller, and
    fails over those that are no longer there.
    """
    spans = [span for span in update.spans if span[0] < len(update.chops)]
    return ChopsUpdate(update.chops, spans, update.chop_ends) if spans else None


def screen_failure(error: BaseException | None) -> Failure:
    """Report a fault of a screen; return what it was in words, with where the report is."""
    return reported(error) if error else Failure("the screen failed")
