"""The strokes of a judged take in plain Python, for the verdict between rungs.

A stroke is one written target with its outcome. It belongs to the part `hands` or `feet`: by its
limb where the pattern names one, otherwise by whether the voice is played with a foot. Times are
milliseconds; an offset of minus is early.

Plain Python without NumPy, because the engine loads it while playing. The same as arrays, for the
reading: `trainer.measure.take_arrays`.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from trainer.kit.voices import VOICES
from trainer.pattern.model import FEET, NOTE_VALUES
from trainer.practice.course import seconds_per_quarter
from trainer.practice.outcomes import misplaced

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence

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
    """Tell whether a foot plays a note: by its limb, or by its voice where no limb is named."""
    return note.limb in FEET if note.limb else VOICES[note.voice].foot


def judged_strokes(judged: Judged) -> list[JudgedStroke]:
    """Return the strokes of a take in the order of its targets."""
    course = judged.course
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


def interval_errors(strokes: Sequence[JudgedStroke]) -> list[float]:
    """Return played minus written time between strokes that follow each other evenly, in ms.

    Only strokes written exactly one note value apart, in the same value and the same pass, are
    neighbours; the second stroke of a unison is passed over.
    """
    errors = []
    for first, second in _stroke_pairs(strokes):
        written = second.due_ms - first.due_ms
        even = first.note.value == second.note.value
        if even and abs(written - first.interval_ms) < 0.01 * first.interval_ms:
            errors.append((second.offset_ms or 0.0) - (first.offset_ms or 0.0))
    return errors


def _stroke_pairs(strokes: Sequence[JudgedStroke]) -> Iterator[tuple[JudgedStroke, JudgedStroke]]:
    last: JudgedStroke | None = None
    for one in strokes:
        if last and last.pass_index == one.pass_index and last.note.beat == one.note.beat:
            continue
        if last and last.pass_index == one.pass_index:
            yield last, one
        last = one


def unison_gaps(strokes: Sequence[JudgedStroke]) -> list[float]:
    """Return the time between the two strokes of each pair meant to land together, in ms.

    Minus means that the first of the two in the pattern's order landed first. Of more than two
    strokes on one beat, each counts against the first.
    """
    beats = group_strokes(strokes, lambda one: (one.pass_index, one.note.beat))
    return [
        (beats_first.offset_ms or 0.0) - (other.offset_ms or 0.0)
        for beats_first, *others in beats.values()
        for other in others
    ]
