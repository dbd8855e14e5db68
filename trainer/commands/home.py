"""Starts the app: on home for `trainer` alone, or on what a command asks for.

Should a screen fail while something is played, the recording goes on here in lines of text.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer import console
from trainer.commands.play_options import TextOptions
from trainer.errors import Failure
from trainer.screens.trainer_app import BottomScreen, TrainerApp, app_with

if TYPE_CHECKING:
    from textual.screen import Screen

    from trainer.actions.requests import Request


def show_home() -> int:
    """Show home until the player leaves; return the exit status."""
    from trainer.actions.look_around import Surroundings
    from trainer.screens.home import HomeScreen
    from trainer.screens.pages import open_by_name

    around = Surroundings()
    try:
        return run(TrainerApp[None](HomeScreen(around, open_by_name)))
    finally:
        around.close()


def show_screen(screen: Screen[Any]) -> int:
    """Show one screen, with all that is opened from it; return the exit status."""
    return run(app_with(screen))


def play_on_screen(request: Request) -> int:
    """Play what is asked for on the screen, then say where it was saved; return the exit status."""
    from trainer.commands.play_as_text import say_where

    app: TrainerApp[None] = TrainerApp(BottomScreen(lambda app: app.play(request)))
    status = run(app)
    for finished in app.sessions:
        say_where(finished)
    if app.sessions and not app.sessions[-1].path:
        return 1
    return status


def run(app: TrainerApp[Any]) -> int:
    """Run the app and return the exit status; raises what a command could not do."""
    try:
        app.run()
    except Failure as failure:
        if app.playing is None or failure is not app.failure:
            raise
        console.print_warning(f"Recording continues in lines of text: {failure}")
        return _continue_as_text(app)
    finally:
        for line in app.remarks:
            console.print_warning(line)
    return app.return_code or 0


def _continue_as_text(app: TrainerApp[Any]) -> int:
    """Go on with what is being played, and with the routine it belongs to."""
    from trainer.commands import play_as_text, routine

    playing, text = app.playing, TextOptions()
    assert playing
    finished = playing.finished
    if finished is None:
        finished = play_as_text.follow(
            playing.handle, playing.practice, text, playing.frame, playing.ended
        )
    else:
        playing.handle.close()
        play_as_text.say_where(finished)
    if app.routine and finished and not finished.stopped:
        routine.continue_as_text(app.routine, text)
    return 0 if finished and finished.path else 1
