"""A figure: one number of a reading with its unit, its count and how sure it is.

A figure that cannot be told is None with the reason beside it; it is never NaN. Intervals cover
95 % where the count allows one:

- **mean**: Student's t on the independent strokes' worth of the series. Strokes that follow each
  other are alike (a player drifts and comes back), so the count is divided by the sum of the
  series' autocorrelation, cut at the first pair of lags that sums below zero (Geyer 1992); the
  result is never more than the count itself. From `MEAN_COUNT` strokes on.
- **spread** (standard deviation, n - 1): chi-square, by Wilson and Hilferty's (1931) cube root. It
  takes the strokes as independent and close to normal. From `SPREAD_COUNT` strokes on.
- **share**: Wilson's (1927) score interval, which stays inside 0 to 100 %.
- **difference** of two figures: recovered from their two intervals (Zou and Donner 2008; for shares
  this is Newcombe's 1998 method). It takes the two as independent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, is_dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.measure.chance import chi2_quantile, t_quantile

if TYPE_CHECKING:
    from trainer.measure.frame import Floats

MEAN_COUNT = 3
"""Fewest strokes a mean is given for; with fewer the figure is withheld."""

SPREAD_COUNT = 5
"""Fewest strokes a spread is given for."""

SERIES_COUNT = 20
"""Fewest strokes from which autocorrelation is estimated; below, they count as independent."""

SURE = 0.95
Z = NormalDist().inv_cdf(0.5 + SURE / 2)


@dataclass(frozen=True, slots=True)
class Figure:
    """One number: `value` in `unit` from `count` strokes, 95 % of the time in `low` to `high`.

    `value` is None where it cannot be told, and `why` says why; `low` and `high` are None where
    there is no interval.
    """

    value: float | None
    unit: str
    count: int
    low: float | None = None
    high: float | None = None
    why: str = ""


def withheld(unit: str, count: int, why: str) -> Figure:
    """Return a figure without a value."""
    return Figure(None, unit, count, why=why)


def too_few(unit: str, count: int, needed: int, of: str = "strokes") -> Figure:
    """Return a figure that is withheld for want of strokes."""
    return withheld(unit, count, f"needs {needed} {of}, there are {count}")


def mean(values: Floats, unit: str) -> Figure:
    """Return the mean of a series in time order, with its interval."""
    count = len(values)
    if count < MEAN_COUNT:
        return too_few(unit, count, MEAN_COUNT)
    centre = float(np.mean(values))
    worth = max(independent(values), 2.0)
    half = t_quantile(0.5 + SURE / 2, worth - 1) * float(np.std(values, ddof=1)) / math.sqrt(worth)
    return Figure(centre, unit, count, centre - half, centre + half)


def spread(values: Floats, unit: str) -> Figure:
    """Return the standard deviation (n - 1) of a series, with its interval."""
    count = len(values)
    if count < SPREAD_COUNT:
        return too_few(unit, count, SPREAD_COUNT)
    sd = float(np.std(values, ddof=1))
    free = count - 1
    low = sd * math.sqrt(free / chi2_quantile(0.5 + SURE / 2, free))
    high = sd * math.sqrt(free / chi2_quantile(0.5 - SURE / 2, free))
    return Figure(sd, unit, count, low, high)


def share(part: int, count: int, of: str = "strokes") -> Figure:
    """Return a share in per cent, with its interval; withheld where there was nothing to count."""
    if count == 0:
        return withheld("%", 0, f"there are no {of}")
    p, grown = part / count, 1 + Z * Z / count
    middle = (p + Z * Z / (2 * count)) / grown
    half = Z / grown * math.sqrt(p * (1 - p) / count + Z * Z / (4 * count * count))
    low, high = max(0.0, middle - half), min(1.0, middle + half)
    return Figure(100 * p, "%", count, 100 * min(low, p), 100 * max(high, p))


def difference(one: Figure, other: Figure) -> Figure:
    """Return one figure minus another of the same unit; the count is the smaller of the two."""
    count = min(one.count, other.count)
    if one.value is None or other.value is None:
        return withheld(one.unit, count, one.why or other.why)
    value = one.value - other.value
    if None in (one.low, one.high, other.low, other.high):
        return Figure(value, one.unit, count)
    below = math.hypot(one.value - (one.low or 0.0), (other.high or 0.0) - other.value)
    above = math.hypot((one.high or 0.0) - one.value, other.value - (other.low or 0.0))
    return Figure(value, one.unit, count, value - below, value + above)


def independent(values: Floats) -> float:
    """Return how many independent strokes a series is worth: its count over its correlation time.

    Never above the count. A series without variation, or too short to tell, is worth its count.
    """
    count = len(values)
    centred = values - np.mean(values)
    power = float(centred @ centred)
    if count < SERIES_COUNT or power <= 0.0:
        return float(count)
    total = 1.0
    for lag in range(1, count // 3, 2):
        pair = float(centred[lag:] @ centred[:-lag] + centred[lag + 1 :] @ centred[: -lag - 1])
        if pair <= 0.0:
            break
        total += 2.0 * pair / power
    return count / total


def plain(value: Any) -> Any:
    """Return figures and their holders as dictionaries, lists and plain values, for JSON."""
    if isinstance(value, Figure):
        told = {name: getattr(value, name) for name in ("value", "unit", "count", "low", "high")}
        return {**told, "why": value.why} if value.why else told
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (tuple, list)):
        return [plain(one) for one in value]
    return value
