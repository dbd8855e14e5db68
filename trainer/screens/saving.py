"""Saving what a screen shows as a picture, off the event loop, and saying where it is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual.binding import Binding

from trainer import svg
from trainer.errors import TrainerError
from trainer.report import plain
from trainer.screens.late import tell

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from textual.screen import Screen

    from trainer.svg import Sheet

PICTURE = Binding("x", "picture", "SVG", tooltip="Save this as an SVG picture, and say where")
"""The key that saves a picture, the same on every screen that can."""


def save(screen: Screen[Any], path: Path, draw: Callable[[], Sheet]) -> None:
    """Draw a picture and put it in its place; neither a slow disk nor `draw` holds anything up."""

    app = screen.app

    def write() -> None:
        try:
            svg.save(path, draw(), make_folder=True)
        except TrainerError as fault:
            told, severity = str(fault), "error"
        else:
            told, severity = f"Picture saved: {path}", "information"
        tell(app, app.notify, plain(told), severity=severity, markup=False)

    # The app's worker: a picture is finished, and told of, also when its screen is left.
    app.run_worker(write, thread=True, group="picture")
