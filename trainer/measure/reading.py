"""The reading: all that a judged take says, gathered from the measures beside this file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainer.measure.advice import advise
from trainer.measure.counts import Counts, counts
from trainer.measure.doubt import doubt
from trainer.measure.evenness import Evenness, evenness
from trainer.measure.figure import plain
from trainer.measure.frame import frame
from trainer.measure.moves import Moves, moves
from trainer.measure.offsets import Offsets, offsets
from trainer.measure.power import Power, power
from trainer.measure.sources import Sources, sources
from trainer.measure.staying import StayingPower, staying_power
from trainer.measure.touch import Touch, touch
from trainer.measure.unisons import Unisons, unisons

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.finding import Finding
    from trainer.practice.outcomes import Judged


@dataclass(frozen=True, slots=True)
class Reading:
    """What a take says; each field but the first ones is explained in the file of its name.

    `doubt` says why the figures may mislead, or is empty. `resolution_ms` is the finest time that
    the machine of the take can be trusted with (None: not known). The numbers here are not rounded
    to it; the words are.
    """

    title: str
    passes: int
    tempo_low: float
    tempo_high: float
    resolution_ms: float | None
    doubt: str
    counts: Counts
    offset: Offsets
    evenness: Evenness
    unisons: Unisons
    moves: Moves
    power: Power
    touch: Touch
    staying: StayingPower
    sources: Sources
    advice: tuple[Finding, ...] | None

    def to_dict(self) -> dict[str, Any]:
        """Return the reading for JSON: a figure as value, unit, count, low, high."""
        told: dict[str, Any] = plain(self)
        return told


def read(
    judged: Judged,
    *,
    resolution_ms: float | None = None,
    silent: Sequence[tuple[float, float]] = (),
) -> Reading:
    """Read a judged take.

    `silent` are the stretches (start, end), in seconds on the session's clock, where the click did
    not sound.
    """
    arrays = frame(judged)
    counted = counts(judged)
    tempos = [one.tempo for one in judged.course.passes] or [judged.course.pattern.tempo]
    return Reading(
        title=judged.course.pattern.title,
        passes=judged.course.begun,
        tempo_low=min(tempos),
        tempo_high=max(tempos),
        resolution_ms=resolution_ms,
        doubt=doubt(arrays, counted),
        counts=counted,
        offset=offsets(arrays),
        evenness=evenness(arrays),
        unisons=unisons(arrays),
        moves=moves(arrays),
        power=power(arrays),
        touch=touch(arrays),
        staying=staying_power(arrays),
        sources=sources(arrays, silent),
        advice=advise(arrays),
    )
