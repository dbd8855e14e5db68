"""A routine in words: its blocks, what follows one, and where a rest is missing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.practice.routine import FREE, PROPOSED_REST_MINUTES, REST, missing_rests
from trainer.show.session_progress import SessionFrame

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.practice.routine import Block, Routine, RoutineProgress

DONE = "The routine is done."
STOPPED = "Stopped here. The same command continues with this block."


def overview(routine: Routine) -> Iterator[str]:
    """Yield the title and a line a block, with what should be said of long stretches."""
    yield f"{routine.title}: {routine.minutes:g} minutes"
    missing = rest_remarks(routine)
    for place, block in enumerate(routine.blocks):
        yield f"  {place + 1}. {block_words(block)}"
        if place in missing:
            yield f"     ({missing[place]})"


def rest_remarks(routine: Routine) -> dict[int, str]:
    """Return what should be said after some blocks: that a rest is missing there."""
    return {
        place: f"after {minutes:g} minutes of playing without a rest, "
        f"{PROPOSED_REST_MINUTES:g} minutes off would do you good"
        for place, minutes in missing_rests(routine)
    }


def block_words(block: Block, seconds: float | None = None) -> str:
    """Return what a block is, with the time it takes, or with the seconds that are left of it."""
    seconds = block.seconds if seconds is None else seconds
    minutes = f"{seconds / 60:.3g} minute" + "s" * (round(seconds / 60, 2) != 1)
    if block.kind == REST:
        return f"rest, {minutes}"
    if block.kind == FREE:
        return f"open block, {minutes}"
    return f"{block.kind}, {block.pattern}, {minutes}"


def following_words(routine: Routine, at: int) -> str:
    """Return what follows a block, empty after the last one."""
    return next((block_words(one) for one in routine.blocks[at + 1 : at + 2]), "")


def block_frame(routine: Routine, progress: RoutineProgress) -> SessionFrame:
    """Return the place of the next block in its routine, its time, and what follows it."""
    at = progress.block
    place = f"block {at + 1} of {len(routine.blocks)}"
    return SessionFrame(progress.left(routine), block=place, after=following_words(routine, at))
