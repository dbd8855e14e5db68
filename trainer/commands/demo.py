"""`trainer demo`: a simulated player keeps hands in shape between two theatre runs.

It goes through the whole job, live screen, summary and session file, with no kit attached.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.commands import playing

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.pattern.model import Pattern

PATTERN = "fives-and-threes"
PLAYER = "between two runs"
SECONDS = 60.0


def options(parser: ArgumentParser) -> None:
    """Add the options of the demo."""
    add = parser.add_argument
    add("pattern", nargs="?", default=PATTERN, metavar="PATTERN", help="a pattern of your choice")
    add("--seed", type=int, default=1, metavar="N", help="another number, another evening")
    add("--fast", action="store_true", help="in simulated time, as lines of text")
    playing.tempo_options(parser)
    playing.options(parser)
    parser.set_defaults(player=PLAYER)


def run(args: Namespace) -> int:
    """Play the demo."""
    from trainer.kit.model import GENERAL_MIDI
    from trainer.midi.click import SilentClick
    from trainer.midi.simulated_player import SimulatedPlayer
    from trainer.pattern.library import load_pattern
    from trainer.practice.plan import SteadyPlan

    pattern = load_pattern(args.pattern)
    tempo = playing.tempo(args, pattern)
    passes = playing.passes(args, _about_a_minute(pattern, tempo))
    job = playing.make_job(
        args,
        pattern,
        GENERAL_MIDI,
        SteadyPlan(tempo, passes, playing.count_in(args)),
        SimulatedPlayer(GENERAL_MIDI, args.seed),
        SilentClick(),
        playing.live_options(args),
        simulated=args.fast,
    )
    return playing.play(job, args, passes, tempo)


def _about_a_minute(pattern: Pattern, tempo: float) -> int:
    """Return how many passes fill a minute best."""
    from trainer.practice.course import seconds_per_quarter

    seconds = float(pattern.length) * seconds_per_quarter(pattern, tempo)
    return max(1, round(SECONDS / seconds))
