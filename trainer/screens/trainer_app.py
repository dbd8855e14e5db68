"""What every app of the program has in common: looks, help, pads as keys, ending with its terminal.

The looks are night, paper (light), contrast, and one for sixteen colours. Early and late share one
ink: side and word say which. Every ink has a sign that says the same without colour. How far apart
all inks stay is computed in `tests/published/test_colours.py`.
"""

from __future__ import annotations

import asyncio
import os
import traceback
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from textual.app import App, SystemCommand
from textual.binding import Binding
from textual.css.query import NoMatches
from textual.filter import NoColor
from textual.theme import Theme

from trainer import console
from trainer.errors import Failure
from trainer.midi.pad_steering import PRESSES, PadListener
from trainer.midi.ports import separate_stderr
from trainer.screens.common import PadStruck
from trainer.screens.dialogs import help_of, key_names
from trainer.screens.terminal import watch_terminal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from textual.screen import Screen

    from trainer.midi.pad_steering import PadSteering


NIGHT = Theme(
    name="night",
    primary="#8fb3d9",
    secondary="#c9b458",
    accent="#e69f00",
    foreground="#e8e6e1",
    background="#101216",
    surface="#171a20",
    panel="#1f232b",
    success="#58c29a",
    warning="#f0e442",
    error="#f0805a",
    dark=True,
    variables={"off": "#e69f00", "faint": "#8b919c"},
)

PAPER = Theme(
    name="paper",
    primary="#1f4e79",
    secondary="#6b5900",
    accent="#8a4b00",
    foreground="#16181c",
    background="#faf8f3",
    surface="#f0ede5",
    panel="#e4e0d5",
    success="#00694a",
    warning="#5a2ca0",
    error="#5a0000",
    dark=False,
    variables={"off": "#8f4700", "faint": "#5d616a"},
)

CONTRAST = Theme(
    name="contrast",
    primary="#ffffff",
    secondary="#ffff00",
    accent="#ffff00",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#1c1c1c",
    success="#7dffb8",
    warning="#ffff00",
    error="#ff9d7a",
    dark=True,
    variables={"off": "#ffb733", "faint": "#c8c8c8"},
)

SIXTEEN = Theme(
    name="sixteen",
    primary="#55ffff",
    secondary="#ffff55",
    accent="#ffff55",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#000000",
    success="#55ff55",
    warning="#ffff55",
    error="#ff5555",
    dark=True,
    variables={"off": "#ff55ff", "faint": "#aaaaaa"},
)
"""For a terminal of sixteen colours, each of these exactly one of them."""

THEMES = (NIGHT, PAPER, CONTRAST, SIXTEEN)


Result = TypeVar("Result")

FEWEST_COLOURS = 8
"""A terminal of fewer colours shows letters, light and dark alone."""


def screen_failure(error: BaseException | None) -> Failure:
    """Return the failure of a screen in words: what it was and in which line."""
    steps = traceback.extract_tb(error.__traceback__) if error else []
    last = f", {Path(steps[-1].filename).name} line {steps[-1].lineno}" if steps else ""
    what = f"{type(error).__name__}: {error}".strip(" :").splitlines()[0] if error else "unknown"
    return Failure(f"the screen failed ({what}{last})")


class TrainerApp(App[Result]):
    """Common to every app of the program: looks, help, and the end with the terminal."""

    CSS_PATH = Path(__file__).with_name("trainer.tcss")
    TITLE = "kit trainer"

    def __init__(self) -> None:
        super().__init__()
        if os.environ.get("NO_COLOR") or console.colour_count() < FEWEST_COLOURS:
            # Textual would draw in greys, which are colours too, and unknown to such a terminal.
            self._filters = [NoColor()]
            self.add_class("-letters")
        self.failure: Failure | None = None
        self.HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (112, "-wide")]
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = SIXTEEN.name if self.console.color_system == "standard" else NIGHT.name
        wanted = os.environ.get("TEXTUAL_THEME", "")
        if wanted in self.available_themes:
            self.theme = wanted
        self._pads: PadListener | None = None

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our own colours for themes that do not know them."""
        return dict(NIGHT.variables)

    def run(self, *args: Any, **more: Any) -> Result | None:
        """Run on the terminal; what libraries write there by themselves never meets the screen.

        Raises Failure with one sentence where the screen failed, once the terminal is as it was.
        """
        with separate_stderr():
            result = super().run(*args, **more)
        if self.failure:
            raise self.failure
        return result

    def on_unmount(self) -> None:
        """Let the pads go: what comes next may want to hear them itself."""
        self.steer_by(None)

    def steer_by(self, steering: PadSteering | None) -> None:
        """Let the pads of a kit press keys from now on, in place of those before; None for none."""
        if self._pads:
            self._pads.close()

        def struck(command: str) -> None:
            self.post_message(PadStruck(command))

        self._pads = PadListener(steering, struck) if steering else None

    def on_pad_struck(self, struck: PadStruck) -> None:
        """Press the key that a pad stands for on the screen that is shown."""
        own: dict[str, str] = getattr(self.screen, "PADS", {})
        if key := {**PRESSES, **own}.get(struck.command):
            self.simulate_key(key)

    def on_load(self) -> None:
        """Notice when the terminal goes away, and when something fails outside of a message."""
        watch_terminal(self, self.terminal_gone)
        asyncio.get_running_loop().set_exception_handler(self._failed_outside)

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

    def _fatal_error(self) -> None:
        """Leave the screen with one sentence; Textual would print pages of a traceback."""
        if self.failure is None:
            self.failure = screen_failure(self._exception)
        self._close_messages_no_wait()

    def terminal_gone(self) -> None:
        """End at once; a practice loop hears of it by its closed handle and saves."""
        self.exit(return_code=129)

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """Offer every key of the screen by its name too."""
        for one in type(screen).BINDINGS:
            if isinstance(one, Binding):
                yield SystemCommand(
                    one.description,
                    one.tooltip or f"the same as the key {key_names(one)}",
                    partial(self.run_action, one.action, screen),
                )
        yield from super().get_system_commands(screen)

    def action_help(self) -> None:
        """Show the help of the screen."""
        self.push_screen(help_of(self.screen))
