"""`trainer ladder`: climb a pattern rung by rung, up when it was clean."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from trainer import console, settings
from trainer.commands import clicking, playing
from trainer.commands.play import job_of, kit_of, kit_options, source
from trainer.errors import BadInput
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.practice.course import check_tempo
from trainer.practice.ladder import ADAPTIVE, LADDER_RULES, START_SHARE, STEADY, Ladder, LadderTimes

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.pattern.model import Pattern


def options(parser: ArgumentParser) -> None:
    """Add the options of a ladder."""
    add = parser.add_argument
    add("pattern", metavar="PATTERN", help="a pattern's name, or a pattern or MIDI file")
    add(
        "--from",
        dest="start",
        type=float,
        metavar="BPM",
        help=f"the first rung (default: {1 - START_SHARE:.0%}% below the tempo at which three "
        "rungs in four are clean so far, which is itself below your ceiling; on a first ladder the "
        "pattern's tempo)",
    )
    add("--step", type=float, default=1.0, metavar="BPM", help="from rung to rung (default: 1)")
    add("--top", type=float, metavar="BPM", help="go no higher")
    add("--passes", type=int, metavar="N", help="how many times the pattern makes a rung")
    add("--minutes", type=float, default=20.0, metavar="M", help="time in all (default: 20)")
    add("--rest-every", type=float, metavar="M", help="a break after this many minutes")
    add("--rest", type=float, default=1.0, metavar="M", help="how long a break is (default: 1)")
    add(
        "--rule",
        choices=LADDER_RULES,
        default=STEADY,
        help="steady: up when clean, again when not, back after two failures; "
        "adaptive: up after clean rungs, down after one that was not, with shrinking steps",
    )
    add(
        "--clean-to-rise",
        type=int,
        default=1,
        metavar="N",
        help=f"with --rule {ADAPTIVE}: clean rungs in a row to go up, 1 to 3",
    )
    kit_options(parser)
    playing.options(parser)
    clicking.options(parser)


def run(args: Namespace) -> int:
    """Climb."""
    from trainer.measure.clean import rung_verdict
    from trainer.pattern.library import load_pattern
    from trainer.practice.ladder import LadderPlan

    pattern = load_pattern(args.pattern)
    passes = playing.passes(args, None)
    top = MAX_TEMPO if args.top is None else check_tempo(args.top)
    ladder = Ladder(
        start=start_below_ceiling(args, pattern, top) if args.start is None else args.start,
        step=args.step,
        top=top,
        rule=args.rule,
        clean_to_rise=args.clean_to_rise,
    )
    judge = partial(rung_verdict, allowed=playing.tolerance(args))
    plan = LadderPlan(pattern, ladder, judge, passes, _clockwork(args))
    kit = kit_of(args)
    job = job_of(args, pattern, kit, plan, source(args, kit))
    return playing.play(job, args, None, ladder.start)


def _clockwork(args: Namespace) -> LadderTimes:
    if not 0 < args.rest <= 60:
        raise BadInput(
            f"a break of {args.rest:g} minutes is out of range",
            where="--rest",
            mend="choose more than 0 and at most 60",
        )
    return LadderTimes(args.minutes, args.rest_every, args.rest * 60, playing.count_in(args))


def start_below_ceiling(args: Namespace, pattern: Pattern, top: float) -> float:
    """Return where a ladder begins that was not told: below the player's ceiling, if known.

    Only rungs of the same strictness and length count. Never above the ladder's top.
    """
    from trainer.archive.ceilings import ceiling_words, climb_of, ladder_start, ladder_start_words
    from trainer.archive.session_list import list_sessions, strictness_words

    folder = settings.recordings_folder(args.recordings)
    player = args.player or settings.load().player
    strictness = strictness_words(playing.tolerance(args).to_dict())
    passes = getattr(args, "passes", None) or 0
    entries = list_sessions(folder).entries
    climb = climb_of(entries, player, pattern.name, strictness, passes)
    found = climb.ceiling(datetime.now().astimezone()) if climb else None
    if found is None:
        return min(pattern.tempo, top)
    start = min(max(MIN_TEMPO, ladder_start(found)), top)
    console.print_warning(f"So far: {ceiling_words(found)}. {ladder_start_words(found, start)}.")
    return start
