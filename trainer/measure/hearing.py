"""What listeners can hear of small differences in time: published thresholds, one place.

A deviation below its threshold is real but must not be called audible.
"""

from __future__ import annotations

ORDER_MS = 20.0
"""Time between two sounds from which their order is heard, in ms: Hirsh 1959, J. Acoust. Soc. Am.
31:759-767, as summed up by Watson 2004, Semin. Hear. 25:219-227. Below it two limbs are heard as
one stroke, from it on as a flam. A preprint on drum grooves (PsyArXiv jsg94) finds 19 to 24 ms for
one drum against the others."""


def just_noticeable(interval_ms: float) -> float:
    """Return the least displacement of one stroke that is heard in even strokes, in ms.

    `interval_ms` is the time from stroke to stroke. 6 ms below 240 ms, 2.5 % of the interval up to
    a second: Friberg and Sundberg 1995, J. Acoust. Soc. Am. 98:2524-2531 (30 listeners; musical
    training made no difference).
    """
    return max(6.0, 0.025 * interval_ms)
