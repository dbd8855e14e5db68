"""`trainer ladder`: climb a pattern rung by rung, up when it was clean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.actions.requests import LadderRequest
from trainer.commands import play, play_options
from trainer.practice.ladder import (
    ADAPTIVE,
    AIMED,
    AIMED_STEP,
    LADDER_RULES,
    LONGER,
    START_SHARE,
    STEADY,
    STEADY_STEP,
)

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add the options of a ladder."""
    add = parser.add_argument
    add("pattern", metavar="PATTERN", help="a pattern's name, or a pattern or MIDI file")
    add(
        "--from",
        dest="start",
        type=float,
        metavar="BPM",
        help=f"the first rung (default: {1 - START_SHARE:.0%}% below the tempo at which 3 rungs in "
        "4 were clean; on a first ladder the pattern's tempo)",
    )
    add(
        "--step",
        type=float,
        metavar="BPM",
        help=f"from rung to rung (default: {STEADY_STEP:g}; with --rule {AIMED} the largest step, "
        f"default {AIMED_STEP:g}); without --rule it means {STEADY}",
    )
    add("--top", type=float, metavar="BPM", help="go no higher")
    add(
        "--passes",
        type=int,
        metavar="N",
        help="how many times the pattern makes a rung (default: as many as the answer needs)",
    )
    add("--minutes", type=float, default=20.0, metavar="M", help="time in all (default: 20)")
    add("--rest-every", type=float, metavar="M", help="a break after this many minutes")
    add("--rest", type=float, default=1.0, metavar="M", help="how long a break is (default: 1)")
    add(
        "--rule",
        choices=LADDER_RULES,
        help=f"{AIMED} (default): finds your ceiling in large steps, then stays where 4 rungs in 5 "
        f"are clean; {STEADY}: up when clean, again when not, back after two failures; "
        f"{ADAPTIVE}: up after clean rungs, down after one that was not, with shrinking steps; "
        f"{LONGER}: one tempo, and each clean rung makes the next one twice as long",
    )
    add(
        "--clean-to-rise",
        type=int,
        default=1,
        metavar="N",
        help=f"with --rule {ADAPTIVE}: clean rungs in a row to go up, 1 to 3",
    )
    play_options.add_kit_options(parser)
    play_options.add_session_options(parser)
    play_options.add_click_options(parser)


def run(args: Namespace) -> int:
    """Climb."""
    request = LadderRequest(
        pattern=args.pattern,
        start=args.start,
        step=args.step,
        top=args.top,
        passes=args.passes,
        minutes=args.minutes,
        rest_every=args.rest_every,
        rest=args.rest,
        rule=args.rule,
        clean_to_rise=args.clean_to_rise,
        setup=play_options.setup_of(args),
    )
    return play.play(request, args)
