"""Playing what was chosen on a screen, as if it had been typed."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import TYPE_CHECKING

from trainer.actions.requests import LadderRequest, PlayRequest, RoutineRequest

if TYPE_CHECKING:
    from trainer.actions.requests import Request


def request_words(request: Request) -> list[str]:
    """Return the command line of a request that a screen made."""
    port = request.setup.played_on.port
    on = ["--port", port] if port else []
    if isinstance(request, RoutineRequest):
        return ["routine", request.file, *on]
    if isinstance(request, LadderRequest):
        return ["ladder", request.pattern, *on]
    tempo = request.tempo if isinstance(request, PlayRequest) else None
    return ["play", request.pattern, *([] if tempo is None else ["--tempo", f"{tempo:g}"]), *on]


def play_chosen(request: Request) -> int:
    """Practise what was chosen; return the exit status."""
    from trainer.commands import play

    parser = ArgumentParser(prog="trainer play")
    play.options(parser)
    return play.run(parser.parse_args(request_words(request)[1:]))
