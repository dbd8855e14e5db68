"""A figure: one number of a reading with its unit, its count and its 95% interval.

A figure that could not be measured is None with the reason beside it, never NaN. Intervals cover
95% where the count allows one:

- **mean**: Student's t on the number of independent strokes that the series is worth. Strokes in a
  row are alike (a player drifts and comes back), so the count is divided by the sum of the series'
  autocorrelation, cut at the first pair of lags that sums below zero (Geyer 1992); the result is
  never more than the count itself. That sum is uncertain too: a series that remembers over k
  strokes shows its own variance no better than count / k independent values do (a truncated window
  at frequency zero, Priestley 1981, 6.2), so t has no more degrees of freedom than that. From
  `SERIES_COUNT` strokes on a series is also taken apart into its slowest cosines, and the heights
  of these are compared with those of three kinds of player (Whittle 1953): one who does not wander,
  one whose wander forgets at some rate, and one with 1/f noise, as human timing has it (Gilden,
  Thornton and Mallon 1995), these two with white noise on top. 1/f noise has wander slower than the
  take that nothing in the take shows; it is reckoned up to eight takes long. Each kind counts by
  how well it fits, and the wider of the two intervals is taken. From `MEAN_COUNT` strokes on.
- **spread** (standard deviation, n - 1): chi-square, for strokes close to normal. Its degrees of
  freedom are the count over one plus twice the sum of the squared autocorrelations (Bartlett 1946:
  so much does memory widen a normal series' variance), cut where `SPREAD_LAGS` lags together are
  within chance. From `SPREAD_COUNT` strokes on.
- **share**: Wilson's (1927) score interval, which stays inside 0 to 100%.
- **difference** of two figures: from their two intervals (Zou and Donner 2008; for shares this is
  Newcombe's 1998 method). It takes the two as independent.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, is_dataclass
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.measure.threshold import (
    chi2_quantile,
    normal_quantile,
    t_quantile,
    within_chance,
)
from trainer.practice.arrays import average, deviation, product

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.practice.arrays import Floats

MEAN_COUNT = 3
"""Fewest strokes a mean is given for; with fewer the figure is withheld."""

SPREAD_COUNT = 5
"""Fewest strokes a spread is given for."""

LEAST_FREE = 2.0
"""Fewest degrees of freedom of a spread: with fewer its interval has no upper end worth showing."""

SERIES_COUNT = 20
"""Fewest strokes from which autocorrelation is estimated; below, they count as independent."""

BLOCK = 8
"""Strokes in each of the means that show a slow wander."""

NEAR_LAGS = 65
"""Autocorrelation is summed up place by place this far, beyond it for all places at once."""

SPREAD_LAGS = 8
"""Lags that are looked at together for the memory of a spread."""

LONG_MEMORY, SLOW_WAVES = 3.0, 4
"""Strokes worth one independent stroke beyond which a difference's mean is read from its slowest
waves; how many of them show a difference's or a trend's variance (Lazarus, Lewis, Stock and Watson
2018)."""

WANDER_WAVES = 64
"""How many waves are compared with kinds of wander; they leave half as many degrees of freedom."""

FORGETS, FLOORS = (2, 8, 32), (0.0, 1.0, 3.0, 10.0, 30.0)
"""The waves from which a wander that forgets falls off, and white noise as a share of wave 1, times
the count: what wanders less than the last looks like white noise."""

WanderOdds = tuple[float, float]
"""Prior odds of 1/f noise with each floor, and for each stroke of white noise alone, against one
wander that forgets."""

ODDS_OF_STROKES, ODDS_OF_GAPS = (12.0, 0.05), (1.0, 1.0)
"""Our own choice: few strokes may hide a wander, so their intervals widen. From a gap between two
limbs the wander of the player as a whole is gone, only that of each limb for itself is left. Of 300
series each, 30 to 600 strokes long, intervals held .99 to 1.00 (white), .95 to .98 (1/f) and .98 to
1.00 (limbs) by the first; gaps .97 to .99 (white) and .91 to .99 (limbs) by the second."""

PINK_MEAN = 1.9083
"""Variance of the mean of noise of density 1 / sqrt(k * k + 1/16) at wave k (two waves are one
cycle a take): the integral of that density times sinc squared over cycles a take."""

SURE = 0.95
Z = normal_quantile(0.5 + SURE / 2)


@dataclass(frozen=True, slots=True)
class Figure:
    """One number: `value` in `unit` from `count` strokes, with its 95% interval, `low` to `high`.

    `value` is None where it could not be measured, and `why` says why; `low` and `high` are None
    without an interval. `free` are the interval's degrees of freedom, None where it has none.
    """

    value: float | None
    unit: str
    count: int
    low: float | None = None
    high: float | None = None
    why: str = ""
    free: float | None = None


def withheld(unit: str, count: int, why: str) -> Figure:
    """Return a figure without a value."""
    return Figure(None, unit, count, why=why)


def too_few(unit: str, count: int, needed: int, of: str = "strokes") -> Figure:
    """Return a figure that is withheld: too few strokes."""
    return withheld(unit, count, f"needs {needed} {of}, has {count}")


def mean(values: Floats, unit: str, *, odds: WanderOdds | None = ODDS_OF_STROKES) -> Figure:
    """Return the mean of a series in time order, with its interval.

    `odds` are None for differences of neighbours, in which slow wander cancels out: what their
    slowest waves show is chance.
    """
    count = len(values)
    if count < MEAN_COUNT:
        return too_few(unit, count, MEAN_COUNT)
    centre = average(values)
    time, lags = _memory(values)
    worth, free = max(count / time, 2.0), _freedom(count, time, lags)
    half = t_quantile(0.5 + SURE / 2, free) * deviation(values) / math.sqrt(worth)
    if odds and count >= SERIES_COUNT:
        waves_free = min(WANDER_WAVES, count - 1) / 2
        slow = t_quantile(0.5 + SURE / 2, waves_free) * _wander_deviation(values, odds)
        half, free = max((half, free), (slow / math.sqrt(count), waves_free))
    elif time > LONG_MEMORY:
        slow = t_quantile(0.5 + SURE / 2, SLOW_WAVES) * slow_deviation(values)
        half, free = max((half, free), (slow / math.sqrt(count), float(SLOW_WAVES)))
    return Figure(centre, unit, count, centre - half, centre + half, free=free)


def slow_deviation(values: Floats, first: int = 1) -> float:
    """Return the deviation of the independent series whose slowest waves are as high as these.

    It is read from `SLOW_WAVES` cosines, from the `first` on; divided by the root of the count it
    is the standard error of the mean.
    """
    return math.sqrt(average(_wave_heights(values, first, SLOW_WAVES)))


def _wave_heights(values: Floats, first: int, count: int) -> Floats:
    """Return the squared heights of so many slow cosines; those of white noise are its variance."""
    number = np.arange(first, first + count)
    waves = np.fft.rfft(np.concatenate((values, values[::-1])))[number]
    turned = waves * np.exp(-0.5j * math.pi / len(values) * number)
    heights: Floats = turned.real**2 / (2 * len(values))
    # Cosines differ in their last digits from machine to machine.
    return np.round(heights, 9)


@lru_cache(maxsize=64)
def _kinds_of_wander(count: int, prior: WanderOdds) -> tuple[Floats, Floats, Floats]:
    """Return each kind's density by wave (rows), variance of its mean, and prior odds."""
    number = np.arange(1, min(WANDER_WAVES, count - 1) + 1)
    kinds = [(1 / np.sqrt(number * number + 1 / 16), PINK_MEAN, prior[0])]
    for wave in FORGETS:
        rate = math.pi * wave
        of_mean = math.pi / wave * (rate - 1 + math.exp(-rate)) / (rate * rate)
        kinds.append((1 / (number * number + wave * wave), of_mean, 1.0))
    every = [
        (density / density[0] + floor / count, of_mean / float(density[0]) + floor / count, odds)
        for density, of_mean, odds in kinds
        for floor in FLOORS
    ]
    every.append((np.ones(len(number)), 1.0, prior[1] * count))
    densities, of_means, odds = zip(*every, strict=True)
    return np.array(densities), np.array(of_means), np.array(odds)


def _wander_deviation(values: Floats, prior: WanderOdds) -> float:
    """Return the deviation of the independent series whose mean is as sure as that of these."""
    waves = min(WANDER_WAVES, len(values) - 1)
    heights = _wave_heights(values, 1, waves)
    if not heights.any():
        return 0.0
    densities, of_means, odds = _kinds_of_wander(len(values), prior)
    scales = np.sum(heights / densities, axis=1) / waves
    logs = np.sum(np.log(densities), axis=1) + waves * np.log(scales)
    fits = np.log(odds) - logs / 2
    # Logarithms differ in their last digits from machine to machine.
    weights = np.round(np.exp(fits - np.max(fits)), 9)
    return math.sqrt(float(np.sum(weights * scales * of_means) / np.sum(weights)))


def spread(values: Floats, unit: str) -> Figure:
    """Return the standard deviation (n - 1) of a series, with its interval."""
    count = len(values)
    if count < SPREAD_COUNT:
        return too_few(unit, count, SPREAD_COUNT)
    return spread_figure(deviation(values), unit, count, (count - 1) / spread_memory(values))


def spread_figure(sd: float, unit: str, count: int, free: float) -> Figure:
    """Return a standard deviation with its interval of so many degrees of freedom."""
    free = max(LEAST_FREE, free)
    low, high = (sd * math.sqrt(free / chi2_quantile(0.5 + s * SURE / 2, free)) for s in (1, -1))
    return Figure(sd, unit, count, low, high, free=free)


def spread_memory(values: Floats) -> float:
    """Return how many strokes of a series say as much of its spread as one independent stroke.

    Lags count a little more than they show, for a take's own mean hides some of its memory.
    """
    count = len(values)
    centred = values - np.mean(values)
    power = product(centred, centred)
    if count < SERIES_COUNT or power <= 0.0:
        return 1.0
    total, lags = 1.0, _correlations(centred, power)
    for lag in range(1, count // 3 - SPREAD_LAGS, SPREAD_LAGS):
        near = list(islice(lags, SPREAD_LAGS))
        if within_chance(near, count):
            break
        hidden = lag / count
        total += 2 * math.fsum((abs(one) + hidden) * (abs(one) + hidden) for one in near)
    else:
        lag = max(1, count // 3)
    return total * (1 + 2 * (lag - 1) / count)


def is_clear(change: Figure) -> bool:
    """Return whether a difference is more than chance: its interval leaves out zero."""
    if change.value is None or change.low is None or change.high is None:
        return False
    return change.low > 0.0 or change.high < 0.0


def share(part: int, count: int, of: str = "strokes", worth: float | None = None) -> Figure:
    """Return a share in percent, with its interval; withheld where there was nothing to count.

    `worth` is how many independent strokes the count is worth, where they are alike.
    """
    if count == 0:
        return withheld("%", 0, f"no {of}")
    worth = count if worth is None else worth
    p, grown = part / count, 1 + Z * Z / worth
    middle = (p + Z * Z / (2 * worth)) / grown
    half = Z / grown * math.sqrt(p * (1 - p) / worth + Z * Z / (4 * worth * worth))
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


def independent_count(values: Floats) -> float:
    """Return how many independent strokes a series is worth: its count over its correlation time.

    Never above the count, since that time is one at least. A series without variation, or too short
    to say more, is worth its count.
    """
    return len(values) / _memory(values)[0]


def correlation_time(values: Floats) -> float:
    """Return the sum of a series' autocorrelation at short lags, one at least."""
    return _correlation(values)[0]


def _freedom(count: int, time: float, lags: int) -> float:
    """Return the degrees of freedom that a series' own variance is known with, at least one."""
    return max(1.0, count / max(time, lags) - 1)


def _memory(values: Floats) -> tuple[float, int]:
    """Return a series' correlation time, and over how many strokes it remembers, at least one.

    The longer of what single strokes and the means of `BLOCK` strokes show: a slow wander under
    much noise shows in the means only.
    """
    power = float(np.var(values))
    whole = len(values) // BLOCK * BLOCK
    blocks = values[:whole].reshape(-1, BLOCK).mean(axis=1)
    if power <= 0.0 or len(blocks) < SERIES_COUNT:
        return _correlation(values)
    time, lags = _correlation(blocks)
    scaled = (BLOCK * float(np.var(blocks)) / power * time, BLOCK * lags)
    return max(_correlation(values), scaled)


def _correlation(values: Floats) -> tuple[float, int]:
    """Return the sum of a series' autocorrelation, and the lag at which it was cut."""
    count = len(values)
    centred = values - np.mean(values)
    power = product(centred, centred)
    total, until = 1.0, 1
    if count < SERIES_COUNT or power <= 0.0:
        return total, until
    lags = _correlations(centred, power)
    for lag in range(1, count // 3, 2):
        until = lag
        pair = next(lags) + next(lags)
        if pair <= 0.0:
            break
        total += 2.0 * pair
    return total, until


def _correlations(centred: Floats, power: float) -> Iterator[float]:
    """Yield a series' correlation with itself one place on, then two and so on."""
    count = len(centred)
    for lag in range(1, min(NEAR_LAGS, count)):
        yield product(centred[lag:], centred[:-lag]) / power
    # One by one the far ones would take time with the square of a long session.
    size = 1 << (2 * count - 1).bit_length()
    waves = np.fft.rfft(centred, size)
    every = np.fft.irfft(waves * waves.conj(), size)
    for lag in range(NEAR_LAGS, count):
        # The waves are sines: without their last digits they are the same on every machine.
        yield round(float(every[lag]) / power, 9)


def plain_values(value: Any) -> Any:
    """Return figures and their holders as dictionaries, lists and plain values, for JSON."""
    if isinstance(value, Figure):
        reported = {
            name: getattr(value, name) for name in ("value", "unit", "count", "low", "high")
        }
        reported |= {"why": value.why} if value.why else {}
        return reported | ({} if value.free is None else {"free": value.free})
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain_values(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(key): plain_values(one) for key, one in value.items()}
    if isinstance(value, (tuple, list)):
        return [plain_values(one) for one in value]
    return value
