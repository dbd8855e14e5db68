"""The reading: all that a judged take says, gathered from the measures beside this file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainer.measure.counts import Counts, counts
from trainer.measure.figure import plain
from trainer.measure.frame import frame
from trainer.measure.offsets import Offsets, offsets

if TYPE_CHECKING:
    from trainer.practice.outcomes import Judged


@dataclass(frozen=True, slots=True)
class Reading:
    """What a take says. `resolution_ms` is the finest time its machine can be trusted with."""

    title: str
    passes: int
    tempo_low: float
    tempo_high: float
    resolution_ms: float | None
    counts: Counts
    offset: Offsets

    def to_dict(self) -> dict[str, Any]:
        """Return the reading for JSON: figures as value, unit, count, low, high; None unknown."""
        told: dict[str, Any] = plain(self)
        return told


def read(judged: Judged, *, resolution_ms: float | None = None) -> Reading:
    """Read a judged take. The resolution is kept for whoever shows the numbers, never applied."""
    arrays = frame(judged)
    tempos = [one.tempo for one in judged.course.passes] or [judged.course.pattern.tempo]
    return Reading(
        title=judged.course.pattern.title,
        passes=len(judged.course.passes),
        tempo_low=min(tempos),
        tempo_high=max(tempos),
        resolution_ms=resolution_ms,
        counts=counts(judged),
        offset=offsets(arrays),
    )
