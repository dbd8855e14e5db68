"""Hands apart: each hand's own ceiling in one ladder, what both together cost, and the dynamics.

Every rung is judged three times: by the strokes of the right hand alone, by those of the left hand
alone, and by both together, each time as a rung of fixed length (`trainer.measure.clean`). Each row
of verdicts gives a ceiling (`trainer.measure.ceiling`), a tempo at which half the rungs are clean.

- `hands`: the ceiling of each hand, in BPM of the pattern, with its 90% interval;
- `together`: that of both;
- `cost`: how far `together` is below the lower of the two, in percent; plus is lost;
- `limit`: the hand whose ceiling is lower by more than chance, or an empty text;
- `louder`, `rougher`: how much mean velocity, and the unevenness of equal strokes, change with
  every 10% of tempo, in steps of velocity (least squares over the rungs, Student's t, 95%).

Intervals of differences are put together from two (`trainer.measure.figure.difference`). Hands that
wander together make them wider than they need to be. In a ladder that only climbs, what tempo and
what tiredness do cannot be kept apart. Where a ceiling is only a bound it has no figure.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from statistics import fmean
from typing import TYPE_CHECKING

from trainer.measure.ceiling import RungOutcome, ceiling
from trainer.measure.clean import DEFAULT_TOLERANCE, strokes_verdict
from trainer.measure.figure import Figure, difference, is_clear, too_few, withheld
from trainer.measure.stroke import judged_strokes
from trainer.measure.threshold import t_quantile
from trainer.pattern.model import HANDS
from trainer.practice.outcomes import PLAYED

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.measure.clean import Tolerance
    from trainer.measure.stroke import JudgedStroke
    from trainer.practice.outcomes import Judged

FEWEST_RUNGS, FEWEST_TEMPOS = 6, 5


@dataclass(frozen=True, slots=True)
class LimbCeilings:
    """What the head of this file says; hands go by RH and LH."""

    hands: dict[str, Figure]
    together: Figure
    cost: Figure
    limit: str
    louder: Figure
    rougher: Figure


def limb_ceilings(judged: Judged, allowed: Tolerance = DEFAULT_TOLERANCE) -> LimbCeilings:
    """Measure the hands of a ladder apart and together, from the judged session."""
    rungs = _strokes_by_rung(judged)
    hands = {
        hand.value: _own_ceiling(
            [(t, [one for one in row if one.note.limb is hand]) for t, row in rungs], allowed
        )
        for hand in HANDS
    }
    both = [(t, [one for one in row if one.note.limb in HANDS]) for t, row in rungs]
    together = _own_ceiling(both, allowed)
    first, second = hands.values()
    apart = difference(first, second)
    lower = min((first, second), key=lambda one: one.value or math.inf)
    limit = ""
    if is_clear(apart):
        limit = next(name for name, one in hands.items() if one is lower)
    return LimbCeilings(
        hands, together, _cost(lower, together), limit, _slope(both, _mean), _slope(both, _uneven)
    )


def _strokes_by_rung(judged: Judged) -> list[tuple[float, list[JudgedStroke]]]:
    """Return tempo and strokes of each rung whose passes are whole and of one tempo."""
    passes = {one.index: one for one in judged.course.passes if one.end_s is None}
    rows: dict[int, list[JudgedStroke]] = defaultdict(list)
    tempos: dict[int, set[float]] = defaultdict(set)
    for one in judged_strokes(judged):
        if one.pass_index in passes:
            rung = passes[one.pass_index].rung
            rows[rung].append(one)
            tempos[rung].add(passes[one.pass_index].tempo)
    return [(tempos[rung].pop(), row) for rung, row in rows.items() if len(tempos[rung]) == 1]


def _own_ceiling(
    rungs: Sequence[tuple[float, Sequence[JudgedStroke]]], allowed: Tolerance
) -> Figure:
    """The ceiling of some strokes of each rung, with its interval."""
    played = [(tempo, strokes) for tempo, strokes in rungs if strokes]
    if len(played) < FEWEST_RUNGS:
        return too_few("BPM", len(played), FEWEST_RUNGS, "rungs")
    outcomes = [
        RungOutcome(tempo, strokes_verdict(strokes, Counter(), allowed).clean)
        for tempo, strokes in played
    ]
    found = ceiling(outcomes)
    if found is None or found.half.open_above or found.half.open_below:
        clean = all(one.clean for one in outcomes)
        why = "every rung was clean" if clean else "the rungs give only a bound"
        return withheld("BPM", len(played), why)
    half = found.half
    return Figure(half.tempo, "BPM", len(played), half.low, half.high)


def _cost(lower: Figure, together: Figure) -> Figure:
    """How far both together are below the lower hand, in percent of it."""
    apart = difference(lower, together)
    if apart.value is None or apart.low is None or apart.high is None or not lower.value:
        return withheld("%", apart.count, apart.why)
    value, low, high = (100 * one / lower.value for one in (apart.value, apart.low, apart.high))
    return Figure(value, "%", apart.count, low, high)


def _mean(strokes: Sequence[JudgedStroke]) -> float | None:
    loud = [one.velocity for one in strokes if one.outcome == PLAYED and one.velocity]
    return fmean(loud) if loud else None


def _uneven(strokes: Sequence[JudgedStroke]) -> float | None:
    """Standard deviation of velocity around the mean of each voice, level and hand."""
    rows: dict[object, list[float]] = defaultdict(list)
    for one in strokes:
        if one.outcome == PLAYED and one.velocity:
            rows[one.note.voice, one.note.level, one.note.limb].append(one.velocity)
    rest = [value - fmean(row) for row in rows.values() for value in row]
    free = len(rest) - len(rows)
    return math.sqrt(math.fsum(one * one for one in rest) / free) if free > 1 else None


def _slope(
    rungs: Sequence[tuple[float, Sequence[JudgedStroke]]],
    of: Callable[[Sequence[JudgedStroke]], float | None],
) -> Figure:
    """Change with every 10% of tempo, by least squares over the rungs."""
    points = [
        (math.log(tempo) / math.log(1.1), value)
        for tempo, row in rungs
        if (value := of(row)) is not None
    ]
    if len({x for x, _ in points}) < FEWEST_TEMPOS:
        return too_few("velocity", len({x for x, _ in points}), FEWEST_TEMPOS, "tempos")
    middle, height = fmean(x for x, _ in points), fmean(y for _, y in points)
    reach = math.fsum((x - middle) ** 2 for x, _ in points)
    slope = math.fsum((x - middle) * (y - height) for x, y in points) / reach
    rest = math.fsum((y - height - slope * (x - middle)) ** 2 for x, y in points)
    free = len(points) - 2.0
    half = t_quantile(0.975, free) * math.sqrt(rest / free / reach)
    return Figure(slope, "velocity", len(points), slope - half, slope + half, free=free)
