"""Trends: how spread, power and errors change during a rung or a session; and the robust slope.

The slope is Theil and Sen's: the median of the slopes of all pairs of points, so single wild
strokes do not move it. Where points come in stretches that may differ in height (passes, rungs),
only pairs inside one stretch count (the seasonal form of Hirsch and Slack 1984). The 95% interval
is Sen's (1968), from the variance of Kendall's score with ties. That takes errors as independent;
strokes in a row are alike, so the variance of each stretch is raised by as much as its points are
worth fewer (Yue and Wang 2004), measured on what the slope leaves over. Memory longer than that is
seen in the slowest waves of what is left (`trainer.measure.figure.slow_deviation`; the first cosine
is nearly a line and left out): the interval is never narrower than they make that of a line.
Stretches of more than `MOST_POINTS` points are first averaged in equal runs.

Trends of a take: main strokes are taken in blocks of `BLOCK_STROKES` in order, inside one pass.
Each block has a spread (ms, around its own mean), a mean velocity and a share of errors (missed or
wrong pad, percent). A trend is the slope of the blocks over time, a minute of the session's clock,
rests included; plus grows.

- `rung`: over the blocks of each rung, all rungs taken together.
- `session`: over all blocks of the same tempo. A ladder that never returns to a tempo gives no
  figure here, because faster is harder.

A trend whose interval holds zero may be no trend. Below `FEWEST_POINTS` blocks: None.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import (
    SERIES_COUNT,
    SLOW_WAVES,
    SURE,
    Figure,
    Z,
    independent_count,
    slow_deviation,
    too_few,
    withheld,
)
from trainer.measure.stroke_block import block_numbers
from trainer.measure.threshold import t_quantile
from trainer.practice.arrays import average, product
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Floats, Ints


MOST_POINTS = 60
"""Most points of one stretch that are paired; more are averaged in runs first."""

FEWEST_SLOW = SERIES_COUNT
"""Fewest points of every stretch for its slowest waves to be looked at."""

FEWEST_POINTS = 6
"""Fewest points, over all stretches, that a trend is given for."""


def robust_slope(
    stretches: Sequence[tuple[Floats, Floats]], unit: str, times: float = 1.0, of: str = "strokes"
) -> Figure:
    """Return the slope of (x, y) stretches, multiplied by `times`, as a figure in `unit`."""
    count = sum(len(x) for x, _ in stretches)
    thin = [(_thinned(x), _thinned(y)) for x, y in stretches if len(x) > 1]
    slopes = np.sort(np.concatenate([_slopes(x, y) for x, y in thin] or [np.empty(0)])) * times
    if count < FEWEST_POINTS or not len(slopes):
        return too_few(unit, count, FEWEST_POINTS, of)
    slope = float(np.median(slopes))
    sigma = math.sqrt(
        sum(_kendall_variance(x, y) * _strokes_worth_one(y - x * slope / times) for x, y in thin)
    )
    low = float(slopes[max(round((len(slopes) - Z * sigma) / 2) - 1, 0)])
    high = float(slopes[min(round((len(slopes) + Z * sigma) / 2), len(slopes) - 1)])
    if low == high == 0 and any(np.ptp(y) > 0 for _, y in thin):
        # So many equal values that the interval has no width, although something does change.
        return Figure(slope, unit, count)
    half = _slow_half(thin, slope / times) * times
    return Figure(slope, unit, count, min(low, slope - half), max(high, slope + half))


def _slow_half(stretches: Sequence[tuple[Floats, Floats]], slope: float) -> float:
    """Half the interval that the slowest waves give a slope; 0 where a stretch is too short."""
    if min(len(x) for x, _ in stretches) < FEWEST_SLOW:
        return 0.0
    reaches = [product(x - average(x), x - average(x)) for x, _ in stretches]
    rests = [(y - average(y)) - slope * (x - average(x)) for x, y in stretches]
    parts = [
        reach * slow_deviation(rest, first=2) ** 2
        for reach, rest in zip(reaches, rests, strict=True)
    ]
    if sum(reaches) <= 0:
        return 0.0
    free = SLOW_WAVES * len(stretches)
    return t_quantile(0.5 + SURE / 2, free) * math.sqrt(math.fsum(parts)) / math.fsum(reaches)


def _slopes(x: Floats, y: Floats) -> Floats:
    first, second = np.triu_indices(len(x), 1)
    run = x[second] - x[first]
    apart = run != 0
    slopes: Floats = (y[second] - y[first])[apart] / run[apart]
    return slopes


def _thinned(values: Floats) -> Floats:
    if len(values) <= MOST_POINTS:
        return values
    edges = np.linspace(0, len(values), MOST_POINTS + 1).astype(int)
    return np.add.reduceat(values, edges[:-1]) / np.diff(edges)


def _strokes_worth_one(rest: Floats) -> float:
    """How many points of a stretch are worth one independent one (1 or more)."""
    return len(rest) / independent_count(rest)


def _kendall_variance(x: Floats, y: Floats) -> float:
    """Variance of Kendall's score of one stretch, with the usual correction for ties."""
    count = len(x)
    ties = [*np.unique(x, return_counts=True)[1], *np.unique(y, return_counts=True)[1]]
    lost = sum(int(k) * (int(k) - 1) * (2 * int(k) + 5) for k in ties if k > 1)
    return max(0.0, (count * (count - 1) * (2 * count + 5) - lost) / 18)


@dataclass(frozen=True, slots=True)
class Trends:
    """Change a minute of spread (ms), power (velocity) and errors (percentage points)."""

    spread: Figure
    power: Figure
    errors: Figure


@dataclass(frozen=True, slots=True)
class TakeTrends:
    """Trends inside the rungs, and over the session at equal tempo."""

    rung: Trends
    session: Trends


@dataclass(frozen=True, slots=True)
class _Blocks:
    """One entry a block: its time in minutes, rung, tempo, spread, power and errors."""

    time_min: Floats
    rung: Ints
    tempo: Floats
    spread: Floats
    power: Floats
    errors: Floats


def take_trends(take: TakeArrays) -> TakeTrends:
    """Measure how a take changes with time."""
    blocks = _blocks(take)
    several = len(np.unique(blocks.rung)) > 1
    by_rung = _block_trends(blocks, blocks.rung.astype(np.float64))
    if not several:
        return TakeTrends(rung=by_rung, session=by_rung)
    tempos, counts = np.unique(_rung_tempos(blocks), return_counts=True)
    if len(tempos) > 1 and counts.max() == 1:
        none = [
            withheld(unit, len(blocks.rung), "no tempo was played twice")
            for unit in ("ms/min", "velocity/min", "%/min")
        ]
        return TakeTrends(rung=by_rung, session=Trends(*none))
    return TakeTrends(rung=by_rung, session=_block_trends(blocks, blocks.tempo))


def _rung_tempos(blocks: _Blocks) -> Floats:
    """The tempo of each rung, once a rung."""
    _, first = np.unique(blocks.rung, return_index=True)
    return blocks.tempo[first]


def _block_trends(blocks: _Blocks, stretch: Floats) -> Trends:
    def slope(values: Floats, unit: str) -> Figure:
        points = []
        for one in np.unique(stretch):
            those = (stretch == one) & ~np.isnan(values)
            points.append((blocks.time_min[those], values[those]))
        return robust_slope(points, unit, of="blocks")

    return Trends(
        spread=slope(blocks.spread, "ms/min"),
        power=slope(blocks.power, "velocity/min"),
        errors=slope(blocks.errors, "%/min"),
    )


def _blocks(take: TakeArrays) -> _Blocks:
    main = np.flatnonzero(take.main)
    block = block_numbers(take.row[main])
    main, block = main[block >= 0], block[block >= 0]
    _, first, block = np.unique(block, return_index=True, return_inverse=True)
    landed = take.played[main]
    strokes, inside = main[landed], block[landed]

    def total(weights: Floats, of: Ints) -> Floats:
        return np.bincount(of, weights, len(first)).astype(np.float64)

    written = total(np.ones(len(main)), block)
    hit = total(np.ones(len(strokes)), inside)
    # Too few for a figure: NaN, which the trends leave out.
    known, free = (np.where(hit > few, hit - few, np.nan) for few in (0, 1))
    offset = take.offset_ms[strokes]
    around = offset - (total(offset, inside) / known)[inside]
    wrong = take.outcome[main] != TARGET_OUTCOMES.index(PLAYED)
    return _Blocks(
        time_min=total(take.time_s[main], block) / written / 60,
        rung=take.rung[main[first]],
        tempo=take.tempo[main[first]],
        spread=np.sqrt(total(around**2, inside) / free),
        power=total(take.velocity[strokes], inside) / known,
        errors=100 * total(wrong.astype(np.float64), block) / written,
    )
