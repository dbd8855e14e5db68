"""From where on a difference counts: what chance does to few strokes, what listeners notice.

Chance: quantiles of Student's t and chi-square, and how far a count or a spread may go over its
limit by chance alone. Hearing: published thresholds for small differences in time. A difference
below its threshold is real, but must not be called audible.

Plain Python without NumPy, because the verdict between rungs uses it.
"""

from __future__ import annotations

import math
import operator
from statistics import NormalDist
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def normal_quantile(p: float) -> float:
    """Return the normal quantile, without the last digits, in which machines differ."""
    return round(NormalDist().inv_cdf(p), 12)


def t_quantile(p: float, free: float) -> float:
    """Return Student's t quantile for p above a half.

    Below 3 degrees of freedom they are rounded down (a wider interval) and the closed forms hold;
    from there the expansion in the normal quantile (Abramowitz and Stegun 1964, 26.7.5), within
    0.2% at p = 0.975.
    """
    if free < 2:
        return round(math.tan(math.pi * (p - 0.5)), 12)
    if free < 3:
        return (2 * p - 1) / math.sqrt(2 * p * (1 - p))
    z = normal_quantile(p)
    # In Horner's form: multiplication is exact to the last bit everywhere, powers are not.
    s = z * z
    terms = (
        ((((79 * s + 776) * s + 1482) * s - 1920) * s - 945) / 92160,
        (((3 * s + 19) * s + 17) * s - 15) / 384,
        ((5 * s + 16) * s + 3) / 96,
        (s + 1) / 4,
        1.0,
    )
    total = 0.0
    for term in terms:
        total = total / free + term
    return z * total


def chi2_quantile(p: float, free: float) -> float:
    """Return the chi-square quantile for 1 degree of freedom or more, within 1e-8 of itself.

    Newton's steps on the distribution, in the logarithm, from Wilson and Hilferty's (1931) cube
    root. From `MANY_FREE` degrees of freedom on that start is within 0.005% and is taken. Without
    the last digits, in which machines differ.
    """
    ninth = 2 / (9 * free)
    root = max(0.05, 1 - ninth + normal_quantile(p) * math.sqrt(ninth))
    found = free * (root * root * root)
    if free >= MANY_FREE:
        return found
    for _ in range(60):
        below, density = _chi2_below(found, free)
        # A step by more than a factor of 7 leaves the range where the density is a guide.
        step = max(-2.0, min(2.0, (p - below) / (density * found)))
        found *= math.exp(step)
        if abs(step) < 1e-12:
            break
    return float(f"{found:.10g}")


MANY_FREE = 1000.0


def _chi2_below(value: float, free: float) -> tuple[float, float]:
    """Return chi-square's distribution and density at a value (Abramowitz and Stegun 26.4.6)."""
    half = free / 2
    density = 0.5 * math.exp((half - 1) * math.log(value / 2) - value / 2 - math.lgamma(half))
    term = total = 1.0
    at = free
    while term > 1e-17 * total:
        at += 2
        term *= value / at
        total += term
    return 2 * density * value / free * total, density


def room_for_count(expected: float, noise: float) -> int:
    """Return the least count that chance exceeds at most `noise` of the time (Poisson)."""
    count, term = 0, math.exp(-expected)
    total = term
    while 1 - total > noise and count < 10 * expected + 50:
        count += 1
        term *= expected / count
        total += term
    return count


def room_for_spread(limit: float, free: float, noise: float) -> float:
    """Return the spread that a true spread of `limit` shows at most `noise` of the time."""
    return limit * math.sqrt(chi2_quantile(1 - noise, free) / free)


SURE_SHARE, OVER_SHARE = 0.9, 1.2
"""A rung of open length decides between a spread of these shares of its limit."""

OVER_MISSED = 0.05
"""How often a spread of `OVER_SHARE` of its limit is called clean, at most."""


def spread_bounds(limit: float, free: float, noise: float) -> tuple[float, float]:
    """Return the measured spreads up to which, and above which, a rung's answer is known.

    Wald's (1945, Ann. Math. Statist. 16:117-186) sequential test of a normal spread of 0.9 of the
    limit against one of 1.2: the first is called too wide with a chance of `noise` at most, the
    second narrow enough with one of `OVER_MISSED`. Between the bounds more strokes are needed;
    `free` are the independent ones so far (degrees of freedom).
    """
    one, other = SURE_SHARE * limit, OVER_SHARE * limit
    steep = free / 2 * (1 / (one * one) - 1 / (other * other))
    middle = free * math.log(other / one)
    low = middle + math.log(OVER_MISSED / (1 - noise))
    high = middle + math.log((1 - OVER_MISSED) / noise)
    return math.sqrt(max(0.0, low) / steep), math.sqrt(high / steep)


MEMORY_LAGS, MEMORY_COUNT = 8, 20
"""Lags that are looked at together for the memory of a series, and its fewest values."""


def strokes_worth_one(values: Sequence[float]) -> float:
    """Return how many strokes of a series say as much of its spread as one independent stroke.

    The plain twin of `trainer.measure.figure.spread_memory`, with its rules.
    """
    count = len(values)
    centre = math.fsum(values) / max(1, count)
    rest = [one - centre for one in values]
    power = math.fsum(one * one for one in rest)
    if count < MEMORY_COUNT or power <= 0.0:
        return 1.0
    total = 1.0
    for lag in range(1, count // 3 - MEMORY_LAGS, MEMORY_LAGS):
        near = [
            math.fsum(map(operator.mul, rest[far:], rest)) / power
            for far in range(lag, lag + MEMORY_LAGS)
        ]
        if within_chance(near, count):
            return total * (1 + 2 * (lag - 1) / count)
        total += 2 * math.fsum((abs(one) + lag / count) ** 2 for one in near)
    return total * (1 + 2 * max(0, count // 3 - 1) / count)


def within_chance(near: Sequence[float], count: int) -> bool:
    """Return whether some neighbouring lags show no memory of a series of so many values.

    A slow wander adds up, limbs that wander apart in turn add up with signs that alternate, and
    anything else shows in the squares.
    """
    chance = 2 * math.sqrt(len(near) / count)
    turned = math.fsum(one if place % 2 else -one for place, one in enumerate(near))
    square = math.fsum(one * one for one in near)
    return max(math.fsum(near), abs(turned)) <= chance and square <= 2 * len(near) / count


ORDER_THRESHOLD_MS = 20.0
"""Time between two sounds from which their order is heard, in ms: Hirsh 1959, J. Acoust. Soc. Am.
31:759-767, as summed up by Watson 2004, Semin. Hear. 25:219-227. That there are two sounds is heard
from `TWO_SOUNDS_MS` on, which of them came first from here on. A preprint on drum grooves (PsyArXiv
jsg94) finds 19 to 24 ms for one drum against the others."""

TWO_SOUNDS_MS = 3.0
"""Time between two sounds from which they are heard as two, in ms: 2 to 3 with both at one ear
(Hirsh 1959, as summed up by Watson 2004)."""


def just_noticeable_ms(interval_ms: float) -> float:
    """Return the least displacement of one stroke that is heard in even strokes, in ms.

    `interval_ms` is the time from stroke to stroke. 6 ms below 240 ms, 2.5% of the interval up to
    a second: Friberg and Sundberg 1995, J. Acoust. Soc. Am. 98:2524-2531 (30 listeners; musical
    training made no difference).
    """
    return max(6.0, 0.025 * interval_ms)
