"""Runs the app: on home, on the screen of a command, or on what is to be played.

Should a screen fail while something is played, the recording continues here in lines of text.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import console
from trainer.errors import Failure
from trainer.screens.trainer_app import TrainerApp

if TYPE_CHECKING:
    from trainer.actions.requests import Request
    from trainer.screens.trainer_app import First


def show_home() -> int:
    """Show home until the player leaves; return the exit status."""
    from trainer.actions.history import Surroundings
    from trainer.screens.home import HomeScreen

    around = Surroundings()
    try:
        return show(HomeScreen(around))
    finally:
        around.close()


def show(first: First) -> int:
    """Show a screen, or what opens one, until it is left; return the exit status.

    Raises what the command could not do.
    """
    return _run(TrainerApp(first, _play))


async def _play(app: TrainerApp, request: Request) -> None:
    """Play a request; what that needs is loaded when it is wanted, home has none of it."""
    from trainer.screens.practice import play_request

    await play_request(app, request)


def play(request: Request) -> int:
    """Play a request, then say where it was saved; return the exit status."""
    from trainer.commands.play_as_text import say_where

    app = TrainerApp(lambda app: app.play(request), _play)
    status = _run(app)
    for finished in app.sessions:
        say_where(finished)
    last = app.sessions[-1] if app.sessions else None
    return 1 if last and not (last.path or last.unplayed) else status


def _run(app: TrainerApp) -> int:
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


def _continue_as_text(app: TrainerApp) -> int:
    """Follow what is being played to its end, and the routine it belongs to."""
    from trainer.commands import play_as_text
    from trainer.commands.play_options import TextOptions

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
        play_as_text.play_routine(app.routine, text)
    return 0 if finished and (finished.path or finished.unplayed) else 1
