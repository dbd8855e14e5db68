"""Robust trends: how fast something changes with time, unmoved by single wild strokes.

The slope is Theil and Sen's: the median of the slopes of all pairs of points. Where points come in
stretches that may differ in height (passes, rungs), only pairs inside one stretch count (the
seasonal form of Hirsch and Slack 1984). The 95 % interval is Sen's (1968), from the variance of
Kendall's score with ties. That takes errors as independent; strokes in a row are alike, so the
variance of each stretch is raised by as much as its points are worth fewer (Yue and Wang 2004),
told from what the slope leaves over. Stretches of more than `POINTS` points are first averaged in
equal runs.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, Z, independent, too_few

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.frame import Floats

POINTS = 60
"""Most points of one stretch that are paired; more are averaged in runs first."""

FEWEST = 6
"""Fewest points, over all stretches, that a trend is given for."""


def trend(
    stretches: Sequence[tuple[Floats, Floats]], unit: str, times: float = 1.0, of: str = "strokes"
) -> Figure:
    """Return the slope of (x, y) stretches, multiplied by `times`, as a figure in `unit`."""
    count = sum(len(x) for x, _ in stretches)
    thin = [(_thinned(x), _thinned(y)) for x, y in stretches if len(x) > 1]
    slopes = np.sort(np.concatenate([_slopes(x, y) for x, y in thin] or [np.empty(0)])) * times
    if count < FEWEST or not len(slopes):
        return too_few(unit, count, FEWEST, of)
    slope = float(np.median(slopes))
    sigma = math.sqrt(
        sum(_kendall_variance(x, y) * _likeness(y - x * slope / times) for x, y in thin)
    )
    low = float(slopes[max(round((len(slopes) - Z * sigma) / 2) - 1, 0)])
    high = float(slopes[min(round((len(slopes) + Z * sigma) / 2), len(slopes) - 1)])
    if low == high == 0 and any(np.ptp(y) > 0 for _, y in thin):
        # So many equal values that the interval has no width, although something does change.
        return Figure(slope, unit, count)
    return Figure(slope, unit, count, low, high)


def _slopes(x: Floats, y: Floats) -> Floats:
    first, second = np.triu_indices(len(x), 1)
    run = x[second] - x[first]
    apart = run != 0
    slopes: Floats = (y[second] - y[first])[apart] / run[apart]
    return slopes


def _thinned(values: Floats) -> Floats:
    if len(values) <= POINTS:
        return values
    edges = np.linspace(0, len(values), POINTS + 1).astype(int)
    return np.add.reduceat(values, edges[:-1]) / np.diff(edges)


def _likeness(rest: Floats) -> float:
    """How many points of a stretch are worth one independent one (1 or more)."""
    return len(rest) / independent(rest)


def _kendall_variance(x: Floats, y: Floats) -> float:
    """Variance of Kendall's score of one stretch, with the usual correction for ties."""
    count = len(x)
    ties = [*np.unique(x, return_counts=True)[1], *np.unique(y, return_counts=True)[1]]
    lost = sum(int(k) * (int(k) - 1) * (2 * int(k) + 5) for k in ties if k > 1)
    return max(0.0, (count * (count - 1) * (2 * count + 5) - lost) / 18)
