"""`trainer demo`: a simulated player keeps hands in shape between two theatre runs.

It goes through the whole job, live screen, summary and session file, with no kit attached.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.actions.requests import (
    DEMO_PATTERN,
    DEMO_PLAYER,
    SIMULATED_PLAYER,
    ClickRequest,
    DemoRequest,
    PlayedOn,
)
from trainer.commands import play, play_options

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add the options of the demo."""
    add = parser.add_argument
    add(
        "pattern",
        nargs="?",
        default=DEMO_PATTERN,
        metavar="PATTERN",
        help="a pattern's name or file",
    )
    add("--seed", type=int, default=1, metavar="N", help="another number, other strokes")
    add("--fast", action="store_true", help="do not wait: all at once, as text")
    play_options.add_tempo_options(parser)
    play_options.add_session_options(parser)
    parser.set_defaults(player=DEMO_PLAYER)


def run(args: Namespace) -> int:
    """Play the demo."""
    played_on = PlayedOn(SIMULATED_PLAYER, seed=args.seed, fast=args.fast)
    setup = play_options.session_setup(args, played_on, ClickRequest(click_parts=None))
    return play.play(DemoRequest(args.pattern, args.tempo, args.passes, setup), args)
