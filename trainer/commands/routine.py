"""`trainer routine`: one sitting of several blocks, to be paused and taken up again."""

from __future__ import annotations

import math
from argparse import RawDescriptionHelpFormatter
from datetime import datetime
from functools import partial
from textwrap import indent
from typing import TYPE_CHECKING

from trainer import console, settings
from trainer.archive.recovery import recover
from trainer.archive.routines import (
    EXAMPLE_ROUTINE,
    RoutineProgressFile,
    find_routine,
    load_routine,
)
from trainer.archive.session_list import list_sessions
from trainer.commands import clicking, playing, resting
from trainer.commands.ladder import start_below_ceiling
from trainer.commands.play import job_of, kit_of, kit_options, source
from trainer.practice.routine import (
    FREE,
    FREE_PLAY,
    LADDER,
    PROPOSED_REST_MINUTES,
    REST,
    RoutineProgress,
    missing_rests,
)
from trainer.show.session_words import recovered_words

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace
    from collections.abc import Callable, Iterator

    from trainer.pattern.model import Pattern
    from trainer.practice.events import Finished
    from trainer.practice.plan import TempoPlan
    from trainer.practice.routine import Block, Routine
    from trainer.show.session_progress import SessionFrame

    Rest = Callable[[float, bool], bool]
    """Waits for some seconds (not at all in simulated time); False where the player stops."""


def options(parser: ArgumentParser) -> None:
    """Add the options of a routine, and an example of its file."""
    parser.formatter_class = RawDescriptionHelpFormatter
    example = EXAMPLE_ROUTINE.format(title="Between two shows", pattern="single-stroke-roll")
    parser.epilog = f"a routine file, to copy and change:\n\n{indent(example, '  ')}"
    add = parser.add_argument
    add("file", metavar="FILE", help="a routine file (TOML), or the name of one in your folder")
    add("--anew", action="store_true", help="begin at the first block, whatever was done before")
    add("--check", action="store_true", help="only say what the file asks for")
    kit_options(parser)
    playing.options(parser)
    clicking.options(parser)


def run(args: Namespace) -> int:
    """Go through the blocks from where the last sitting stopped."""
    path = find_routine(args.file)
    routine = load_routine(path)
    sitting = RoutineProgressFile(path, routine)
    if console.has_screen() and not (args.check or args.plain or args.every_hit or args.json):
        from trainer.commands import routine_screens

        return routine_screens.show(sitting, args)
    console.print_lines(overview(routine))
    if args.check:
        return 0
    if args.anew:
        sitting.keep(RoutineProgress())
    done = go_on(sitting, args, resting.rest)
    console.print_line(
        "The routine is done."
        if done
        else "Stopped here; the same command goes on with this block."
    )
    return 0


def progress_of(sitting: RoutineProgressFile, args: Namespace) -> RoutineProgress:
    """Return how far a sitting has come; what a crash cut off is finished first, and counts."""
    folder = settings.recordings_folder(args.recordings)
    if folder.is_dir():
        console.print_lines(map(recovered_words, recover(folder)))
    return sitting.progress(list_sessions(folder).entries)


def go_on(sitting: RoutineProgressFile, args: Namespace, rest: Rest) -> bool:
    """Play the blocks from where the sitting stands; return True once the last one is done."""
    routine = sitting.routine
    progress = progress_of(sitting, args)
    if progress != RoutineProgress():
        console.print_line(f"Going on with block {progress.block + 1}.")
    while not progress.over(routine):
        left_s = progress.left(routine)
        block = routine.blocks[progress.block]
        sitting.keep(progress, datetime.now().astimezone())
        console.print_line(
            f"Block {progress.block + 1} of {len(routine.blocks)}: {words(block, left_s)}"
        )
        if not _perform(sitting, progress, args, rest):
            # The time that was spent looking at the summary is not practice.
            folder = settings.recordings_folder(args.recordings)
            sitting.keep(sitting.progress(list_sessions(folder).entries))
            return False
        progress = progress.after()
        sitting.keep(progress)
    return True


def overview(routine: Routine) -> Iterator[str]:
    """Yield the title and a line a block, with what should be said of long stretches."""
    yield f"{routine.title}: {routine.minutes:g} minutes"
    missing = remarks(routine)
    for place, block in enumerate(routine.blocks):
        yield f"  {place + 1}. {words(block, block.seconds)}"
        if place in missing:
            yield f"     ({missing[place]})"


def remarks(routine: Routine) -> dict[int, str]:
    """Return what should be said after some blocks: that a rest is missing there."""
    return {
        place: f"after {minutes:g} minutes of playing without a rest, "
        f"{PROPOSED_REST_MINUTES:g} minutes off would do you good"
        for place, minutes in missing_rests(routine)
    }


def words(block: Block, seconds: float) -> str:
    """Return what a block is, with the time it takes or has left."""
    minutes = f"{seconds / 60:.3g} minute" + "s" * (round(seconds / 60, 2) != 1)
    if block.kind == REST:
        return f"rest, {minutes}"
    if block.kind == FREE:
        return f"free play, {minutes}"
    return f"{block.kind}, {block.pattern}, {minutes}"


def after(routine: Routine, at: int) -> str:
    """Return what follows a block, empty after the last one."""
    return next((words(one, one.seconds) for one in routine.blocks[at + 1 : at + 2]), "")


def _perform(
    sitting: RoutineProgressFile, progress: RoutineProgress, args: Namespace, rest: Rest
) -> bool:
    """Play what is left of the next block; return True where it came to its end."""
    routine = sitting.routine
    block, seconds = routine.blocks[progress.block], progress.left(routine)
    if block.kind == REST:
        return rest(seconds, args.fast)
    from trainer.practice.plan import SteadyPlan

    pattern = _pattern(block)
    tempo, plan = _plan(block, pattern, seconds, args)
    kit = kit_of(args)
    job = job_of(args, pattern, kit, plan, source(args, kit))

    def ended(finished: Finished) -> None:
        """Count the block as done at once: a summary that stands is no part of it."""
        if not finished.stopped:
            sitting.keep(progress.after())

    around = _around(routine, progress)
    passes = plan.left if isinstance(plan, SteadyPlan) else None
    finished = playing.perform(job, args, passes, tempo, around, ended)
    return finished is not None and not finished.stopped


def _around(routine: Routine, progress: RoutineProgress) -> SessionFrame:
    """Return a block's place in the routine, its time, and what follows it."""
    from trainer.show.session_progress import SessionFrame

    at = progress.block
    block = f"block {at + 1} of {len(routine.blocks)}"
    return SessionFrame(progress.left(routine), block=block, after=after(routine, at))


def _pattern(block: Block) -> Pattern:
    from fractions import Fraction

    from trainer.pattern.library import load_pattern
    from trainer.pattern.model import Bar, Meter, Pattern

    if block.kind != FREE:
        return load_pattern(block.pattern)
    return Pattern(FREE_PLAY, "Free play", (Bar(Fraction(0), Meter()),), (), tempo=100.0)


def _plan(
    block: Block, pattern: Pattern, seconds: float, args: Namespace
) -> tuple[float, TempoPlan]:
    """Return the tempo a block begins at and its plan, sized for the seconds that are left."""
    from trainer.measure.clean import rung_verdict
    from trainer.practice.course import MAX_TEMPO, seconds_per_quarter
    from trainer.practice.ladder import Ladder, LadderPlan, LadderTimes
    from trainer.practice.plan import SteadyPlan

    count_in = playing.count_in(args)
    if block.kind == LADDER:
        top = block.top or MAX_TEMPO
        start = block.start or start_below_ceiling(args, pattern, top)
        ladder = Ladder(start, block.step, top, rule=block.rule, clean_to_rise=block.clean_to_rise)
        judge = partial(rung_verdict, allowed=playing.tolerance(args))
        clockwork = LadderTimes(seconds / 60, count_in_bars=count_in)
        return start, LadderPlan(pattern, ladder, judge, block.passes, clockwork)
    tempo = block.tempo or pattern.tempo
    pass_s = float(pattern.length) * seconds_per_quarter(pattern, tempo)
    return tempo, SteadyPlan(tempo, max(1, math.floor(seconds / pass_s)), count_in)
