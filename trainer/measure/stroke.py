"""The strokes of a judged take in plain Python, for the verdict between rungs.

A stroke is one written target with its outcome. It belongs to the part `hands` or `feet`: by its
limb where the pattern names one, otherwise by whether the voice is played with a foot. Times are
milliseconds; an offset of minus is early.

What belongs together is defined here, for the verdict and for the reading alike:

- **Neighbours** are two played strokes of one part that follow each other in one pass among the
  strokes of their note value, exactly one note value apart: a hi-hat in eighths is even or not,
  whatever ghost notes come between. Of two strokes on one beat the first in the pattern's order
  counts; a missed stroke breaks the chain.
- A **unison** is every two main strokes on one beat of one pass that both landed on their pads.
  Three limbs at once are three unisons: listeners hear a flam as soon as any two are far apart, so
  the widest gap counts, which limbs ever it is between. The gap is the first stroke's offset minus
  the second's; the first is the hand where a hand meets a foot, otherwise the right (RH before LH,
  RF before LF), otherwise the upper voice of the kit's order.
- A **stray** is a hit for no target, from half a quarter note (0.1 to 0.25 s) before the first pass
  begins to as long after the last one ends; a lead-in and noodling afterwards are not strays.

Plain Python without NumPy, because the engine loads it while playing. The same as arrays, for the
reading: `trainer.measure.take_arrays`.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from itertools import combinations, pairwise
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from trainer.kit.voices import ROW, VOICES
from trainer.pattern.as_played import played_places
from trainer.pattern.model import FEET, NOTE_VALUES, Limb
from trainer.practice.course import early_s, pass_end, seconds_per_quarter
from trainer.practice.outcomes import EXTRA, misplaced

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Sequence
    from fractions import Fraction

    from trainer.pattern.model import Note
    from trainer.practice.outcomes import Judged

K = TypeVar("K", bound="Hashable")

HANDS_PART, FEET_PART = "hands", "feet"


class JudgedStroke(NamedTuple):
    """One target and its outcome. Times are ms; `interval_ms` is its note value's length.

    `offset_ms` (minus is early) and `velocity` are None without a hit. `misplaced` is True where a
    zone is written (a rim, open) and another one of the same pad was hit.
    """

    note: Note
    pass_index: int
    due_ms: float
    interval_ms: float
    outcome: str
    offset_ms: float | None
    velocity: float | None
    misplaced: bool = False

    @property
    def part(self) -> str:
        """`hands` or `feet`."""
        return FEET_PART if is_foot_stroke(self.note) else HANDS_PART


def is_foot_stroke(note: Note) -> bool:
    """Return whether a foot plays a note: by its limb, or by its voice where no limb is named."""
    return note.limb in FEET if note.limb else VOICES[note.voice].foot


def judged_strokes(judged: Judged) -> list[JudgedStroke]:
    """Return the strokes of a take in the order of its targets."""
    course = judged.course
    pace = played_places(course.pattern).pace
    quarter = {
        one.index: seconds_per_quarter(course.pattern, one.tempo) * 1000 for one in course.passes
    }
    found = []
    for index, target in enumerate(judged.targets):
        hit, offset = judged.target_hit[index], judged.offset_s(index)
        found.append(
            JudgedStroke(
                note=target.note,
                pass_index=target.pass_index,
                due_ms=target.time_s * 1000,
                interval_ms=float(NOTE_VALUES[target.note.value].length)
                * pace(target.note.beat)
                * quarter[target.pass_index],
                outcome=judged.target_outcome[index],
                offset_ms=None if offset is None else offset * 1000,
                velocity=None if hit is None else judged.hits[hit].strength,
                misplaced=hit is not None and misplaced(target.note, judged.hits[hit]),
            )
        )
    return found


def group_strokes(
    strokes: Iterable[JudgedStroke], key: Callable[[JudgedStroke], K]
) -> dict[K, list[JudgedStroke]]:
    """Sort strokes into groups, each in its old order, by what `key` says."""
    found: dict[K, list[JudgedStroke]] = defaultdict(list)
    for one in strokes:
        found[key(one)].append(one)
    return dict(found)


EVEN_WITHIN = 0.01
"""Written distances that differ by less than this part of one count as the same."""


def one_value_apart(apart: Any, interval: Any) -> Any:
    """Return whether a written distance is exactly one note value (numbers or arrays of a unit)."""
    return abs(apart - interval) < EVEN_WITHIN * interval


def interval_errors(strokes: Sequence[JudgedStroke]) -> list[float]:
    """Return played minus written time between neighbours among strokes of one part, in ms."""
    return [
        (second.offset_ms or 0.0) - (first.offset_ms or 0.0)
        for line in group_strokes(strokes, lambda one: (one.pass_index, one.note.value)).values()
        for first, second in pairwise(_one_a_beat(line))
        if one_value_apart(second.due_ms - first.due_ms, first.interval_ms)
    ]


def _one_a_beat(strokes: Sequence[JudgedStroke]) -> list[JudgedStroke]:
    """Return the first stroke on each beat, of strokes in one pass."""
    return list({one.note.beat: one for one in reversed(strokes)}.values())[::-1]


def unison_pairs(notes: Sequence[Note]) -> list[tuple[int, int]]:
    """Return every two main notes on one beat, by their places; the first one as the head says."""
    beats: dict[Fraction, list[int]] = defaultdict(list)
    for place, note in enumerate(notes):
        if not note.grace:
            beats[note.beat].append(place)
    return [
        pair
        for together in beats.values()
        for pair in combinations(sorted(together, key=lambda place: _rank(notes[place])), 2)
    ]


def _rank(note: Note) -> tuple[bool, int, int]:
    limb = _LIMB_ORDER.index(note.written_limb) if note.written_limb else len(_LIMB_ORDER)
    return is_foot_stroke(note), limb, ROW[note.voice]


_LIMB_ORDER = tuple(Limb)


class UnisonGaps(NamedTuple):
    """The gap of every pair in ms, and how many of the gaps are independent of each other.

    Three strokes at once make three gaps, but the third follows from the other two.
    """

    gaps: list[float]
    independent: int


def unison_gaps(strokes: Sequence[JudgedStroke]) -> UnisonGaps:
    """Return the gaps of all unisons among played main strokes, minus where the first is early."""
    gaps, independent = [], 0
    for one in group_strokes(strokes, lambda stroke: stroke.pass_index).values():
        for first, second in unison_pairs([stroke.note for stroke in one]):
            gaps.append((one[first].offset_ms or 0.0) - (one[second].offset_ms or 0.0))
        independent += len(one) - len({stroke.note.beat for stroke in one})
    return UnisonGaps(gaps, independent)


STRAY_BEFORE, STRAY_AFTER = "before", "after"


def take_limits_s(judged: Judged) -> tuple[float, float]:
    """Return from when to when hits can belong to a take, in seconds on the session's clock."""
    targets, passes = judged.targets, judged.course.passes
    if not targets or not passes:
        return -math.inf, math.inf
    reach_s = early_s(seconds_per_quarter(judged.course.pattern, passes[0].tempo))
    start_s = passes[0].start_s if passes[0].from_s is None else passes[0].from_s
    end_s = pass_end(judged.course.pattern, passes[-1])
    # Grace strokes before the first beat and a last stroke beyond the cut belong to the take.
    due = [target.time_s for target in targets]
    return min(start_s, *due) - reach_s, max(end_s, *due) + reach_s


def count_hits(judged: Judged) -> Counter[str]:
    """Count the hits by outcome; strays outside the take are `before` or `after`."""
    first_s, last_s = take_limits_s(judged)
    found = Counter(judged.hit_outcome)
    for hit, outcome in zip(judged.hits, judged.hit_outcome, strict=True):
        if outcome == EXTRA and not first_s <= hit.time_s <= last_s:
            found[EXTRA] -= 1
            found[STRAY_BEFORE if hit.time_s < first_s else STRAY_AFTER] += 1
    return found
