"""`trainer play`: practise a pattern on a kit, on the computer keys, or let it be simulated."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.actions.requests import PlayRequest
from trainer.commands import play_options

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.actions.requests import SessionRequest


def options(parser: ArgumentParser) -> None:
    """Add the options of practice."""
    parser.add_argument(
        "pattern", metavar="PATTERN", help="a pattern's name, or a pattern or MIDI file"
    )
    play_options.add_kit_options(parser)
    play_options.add_tempo_options(parser, minutes=True)
    play_options.add_session_options(parser)
    play_options.add_click_options(parser)
    parser.add_argument(
        "--follow",
        default="",
        metavar="NAME",
        help="follow the MIDI clock of an input (part of its name)",
    )


def run(args: Namespace) -> int:
    """Practise."""
    setup = play_options.setup_of(args)
    request = PlayRequest(
        args.pattern, args.tempo, args.passes, args.follow, setup, minutes=args.minutes
    )
    return play(request, args)


def play(request: SessionRequest, args: Namespace) -> int:
    """Play a request on the screen or in lines of text; return the exit status."""
    text = play_options.text_of(args)
    if not (text.wanted or request.setup.played_on.fast):
        from trainer.commands import on_screen

        return on_screen.play(request)
    from trainer.actions.prepare import prepare
    from trainer.commands import play_as_text

    practice = prepare(request, play_as_text.waiting_for_kit(text))
    finished = play_as_text.play(practice, text)
    return 0 if finished and (finished.path or finished.unplayed) else 1
