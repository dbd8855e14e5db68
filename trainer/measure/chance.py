"""What chance alone does to figures from few strokes: quantiles and the room they ask for.

Plain Python, because the practice loop uses it between rungs.
"""

from __future__ import annotations

import math
from statistics import NormalDist


def t_quantile(p: float, free: float) -> float:
    """Return Student's t quantile for p above a half.

    Below 3 degrees of freedom they are rounded down (a wider interval) and the closed forms hold;
    from there the expansion in the normal quantile (Abramowitz and Stegun 1964, 26.7.5), within
    0.2 % at p = 0.975.
    """
    if free < 2:
        return math.tan(math.pi * (p - 0.5))
    if free < 3:
        return (2 * p - 1) / math.sqrt(2 * p * (1 - p))
    z = NormalDist().inv_cdf(p)
    terms = (
        z,
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return sum(term / free**power for power, term in enumerate(terms))


def chi2_quantile(p: float, free: float) -> float:
    """Return the chi-square quantile by Wilson and Hilferty (1931).

    From 4 degrees of freedom on within 1 % at p = 0.98; at p = 0.025 within 8 % for 4 degrees and
    2 % from 9 on.
    """
    ninth = 2 / (9 * free)
    return free * max(1e-9, 1 - ninth + NormalDist().inv_cdf(p) * math.sqrt(ninth)) ** 3


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
