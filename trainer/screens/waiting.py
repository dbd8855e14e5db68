"""A screen to look at while something long is done elsewhere: what is being done, and for how long.

It is there at once and answers its keys; whoever does the work says how far it is.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.screen import Screen
from textual.widgets import Footer

from trainer.report import plain
from trainer.screens.widgets.lines import Lines

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from trainer.screens.ink import Line

TICK_S = 0.25
SLOW_S = 1.0
"""After so long the seconds are told too."""


class WaitScreen(Screen[None]):
    """What is being done."""

    GUIDE = "Something is being read or counted. The screen that was asked for comes by itself."
    BINDINGS: ClassVar = [
        Binding("q,escape", "app.quit", "Close", key_display="q"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?"),
    ]

    def __init__(self, heading: str) -> None:
        super().__init__()
        self._heading = heading
        self._told = ""
        self._since = time.monotonic()

    def compose(self) -> ComposeResult:
        """Lay out the heading with what is being done, and the keys."""
        yield Lines(self._lines, id="waiting")
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Count the seconds."""
        self._clock = self.set_interval(TICK_S, self._redraw)

    def on_screen_suspend(self) -> None:
        """Rest below the screen that came."""
        self._clock.pause()

    def say(self, told: str) -> None:
        """Say what is being done now."""
        self._told = told
        self._redraw()

    def _redraw(self) -> None:
        for lines in self.query("#waiting").results(Lines):
            lines.redraw()

    def _lines(self, columns: int) -> Sequence[Line]:
        passed = time.monotonic() - self._since
        seconds = f"  {passed:.0f} s" if passed >= SLOW_S else ""
        told = f"{plain(self._told)} …{seconds}" if self._told else ""
        return [((plain(self._heading), "strong"),), (), ((told, "plain"),)]
