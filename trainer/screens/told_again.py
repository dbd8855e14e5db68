"""A judged take told again as the events that a live screen would have heard, each at its moment.

Final outcomes only: what stands in the saved session is what is shown.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING

from trainer.practice.course import seconds_per_quarter
from trainer.practice.events import HitJudged, TargetMissed
from trainer.practice.outcomes import MISSED
from trainer.practice.zones import instead

if TYPE_CHECKING:
    from trainer.practice.course import Pass
    from trainer.practice.outcomes import Judged

Told = tuple[float, HitJudged | TargetMissed]
"""A moment in seconds on the session's clock, and what was known from then on."""


def tell(judged: Judged) -> list[Told]:
    """Return every hit and every miss in the order of time. `pass_index` is the pass's row."""
    rows = {one.index: row for row, one in enumerate(judged.course.passes)}
    missed: list[Told] = [
        (target.time_s, TargetMissed(target.index, rows[target.pass_index], target.note_index))
        for target, outcome in zip(judged.targets, judged.target_outcome, strict=True)
        if outcome == MISSED
    ]
    hits: list[Told] = [
        (hit.time_s, _hit(judged, index, rows)) for index, hit in enumerate(judged.hits)
    ]
    return sorted([*missed, *hits], key=lambda told: told[0])


def _hit(judged: Judged, index: int, rows: dict[int, int]) -> HitJudged:
    hit, target = judged.hits[index], judged.hit_target[index]
    row, beat = place(judged, hit.time_s)
    note = offset = None
    other = ""
    if target is not None:
        aim = judged.targets[target]
        row, note, offset = rows[aim.pass_index], aim.note_index, hit.time_s - aim.time_s
        beat = float(aim.note.beat)
        other = instead(aim.note, hit)
    return HitJudged(
        index,
        hit.time_s,
        hit.note,
        hit.velocity,
        hit.voice,
        hit.zone,
        judged.hit_outcome[index],
        target,
        offset,
        True,
        row,
        note,
        beat,
        other,
    )


def place(judged: Judged, time_s: float) -> tuple[int, float]:
    """Return the pass (row) and the place in the pattern, in quarter notes, of a moment."""
    passes = judged.course.passes
    if not passes:
        return 0, 0.0
    row = max(0, bisect_right(passes, time_s, key=_start) - 1)
    one, pattern = passes[row], judged.course.pattern
    beat = (time_s - one.start_s) / seconds_per_quarter(pattern, one.tempo)
    return row, min(max(0.0, beat), float(pattern.length))


def _start(one: Pass) -> float:
    return one.start_s
