"""Stretches of one note value, and whether a value as such is played early or late.

A stretch is a run of hands' strokes of one note value. Its place is the mean of its strokes without
the first `AFTER_CHANGE`, which belong to the change, where enough are left. A value is compared
stretch by stretch with the mean of the stretches before and after, so wander that is slower than a
stretch falls out; the differences go through Student's t.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.chance import t_quantile
from trainer.measure.finding import FEWEST

if TYPE_CHECKING:
    from trainer.measure.frame import Bools, Floats, Ints

AFTER_CHANGE = 2
"""Strokes after a change that belong to the change."""

FEWEST_STRETCHES = 5


def starts(value: Ints) -> Ints:
    """Return where each stretch begins, given the value of each stroke (at least one)."""
    return np.flatnonzero(np.concatenate([[True], value[1:] != value[:-1]]))


def value_gap(offsets: Floats, value: Ints, inside: Bools, alpha: float) -> tuple[float, bool]:
    """Return how much later a value's stretches are than their neighbours, and whether surely.

    `inside` is True for the strokes of one value; all three are parallel, in order of time.
    """
    if inside.sum() < FEWEST:
        return 0.0, False
    first = starts(value)
    places = np.array([_place(one) for one in np.split(offsets, first[1:])])
    middle = np.flatnonzero(inside[first][1:-1]) + 1
    if len(middle) < FEWEST_STRETCHES:
        return 0.0, False
    gaps = places[middle] - (places[middle - 1] + places[middle + 1]) / 2
    mean, error = float(gaps.mean()), float(gaps.std(ddof=1)) / math.sqrt(len(gaps))
    return mean, abs(mean) > t_quantile(1.0 - alpha / 2, len(gaps) - 1) * error


def _place(stretch: Floats) -> float:
    rest = stretch[AFTER_CHANGE:]
    return float((rest if len(rest) >= AFTER_CHANGE else stretch).mean())
