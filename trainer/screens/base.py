"""What every app of the program has in common: looks, help, and ending with its terminal."""

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

from trainer import abilities
from trainer.errors import Failure
from trainer.midi.quiet import apart
from trainer.screens.help import help_of, key_names
from trainer.screens.messages import PadStruck
from trainer.screens.pads import PRESSES, PadEar
from trainer.screens.terminal import watch
from trainer.screens.theme import NIGHT, SIXTEEN, THEMES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from textual.screen import Screen

    from trainer.screens.pads import Steering

Result = TypeVar("Result")

FEWEST_COLOURS = 8
"""A terminal of fewer colours shows letters, light and dark alone."""


def failed(error: BaseException | None) -> Failure:
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
        if os.environ.get("NO_COLOR") or abilities.colours() < FEWEST_COLOURS:
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
        self._pads: PadEar | None = None

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our own colours for themes that do not know them."""
        return dict(NIGHT.variables)

    def run(self, *args: Any, **more: Any) -> Result | None:
        """Run on the terminal; what libraries write there by themselves never meets the screen.

        Raises Failure with one sentence where the screen failed, once the terminal is as it was.
        """
        with apart():
            result = super().run(*args, **more)
        if self.failure:
            raise self.failure
        return result

    def on_unmount(self) -> None:
        """Let the pads go: what comes next may want to hear them itself."""
        self.steer_by(None)

    def steer_by(self, steering: Steering | None) -> None:
        """Let the pads of a kit press keys from now on, in place of those before; None for none."""
        if self._pads:
            self._pads.close()

        def struck(command: str) -> None:
            self.post_message(PadStruck(command))

        self._pads = PadEar(steering, struck) if steering else None

    def on_pad_struck(self, struck: PadStruck) -> None:
        """Press the key that a pad stands for on the screen that is shown."""
        own: dict[str, str] = getattr(self.screen, "PADS", {})
        if key := {**PRESSES, **own}.get(struck.command):
            self.simulate_key(key)

    def on_load(self) -> None:
        """Notice when the terminal goes away, and when something fails outside of a message."""
        watch(self, self.terminal_gone)
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
            self.failure = failed(self._exception)
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
