"""Whether a reading can be believed at all: one sentence of doubt, or nothing.

A take of another pattern, at another tempo or from another start still finds partners for some of
its strokes by chance, and their figures look like any others. Four signs are told:

- fewer than half of the written strokes were played;
- more hits without a target than half of the written strokes;
- more double triggers than written strokes: no kit sends so many for strokes one by one;
- offsets vary by more than a fifth of the time between strokes, and from stroke to stroke hardly
  less. Partners found by chance lie evenly between two targets: they vary by 0.29 of it, each
  apart from the last, while a player who merely wanders stays near where he was.

The limits are our own choice.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import SPREAD_COUNT

if TYPE_CHECKING:
    from trainer.measure.counts import Counts
    from trainer.measure.frame import Frame

LOST = 0.5
LOOSE = 0.2
APART = 0.17

CHANCE = (
    "The offsets vary by a large part of the time between strokes: hits may have found their "
    "strokes by chance, and the figures say little."
)


def doubt(frame: Frame, counts: Counts) -> str:
    """Return why the figures may mislead, or an empty text."""
    if not counts.targets:
        return ""
    if counts.played < LOST * counts.targets:
        return (
            f"Only {counts.played} of {counts.targets} strokes landed on their pad: this may be "
            "another pattern, tempo or start, and the figures say little."
        )
    if counts.extra > LOST * counts.targets:
        return (
            f"{counts.extra} hits belong to no stroke of the pattern: this may be another pattern, "
            "tempo or start, and the figures say little."
        )
    if counts.double > counts.targets:
        return (
            f"{counts.double} hits came as double triggers, more than the {counts.targets} strokes "
            "that are written: a flood of notes finds its strokes by chance, and the figures say "
            "little."
        )
    return CHANCE if _by_chance(frame) else ""


def _by_chance(frame: Frame) -> bool:
    offsets = frame.offset_ms[frame.played]
    if len(offsets) < SPREAD_COUNT:
        return False
    step = float(np.median(frame.interval_s[frame.played])) * 1000
    local = float(np.std(np.diff(offsets))) / math.sqrt(2)
    return float(np.std(offsets)) > LOOSE * step and local > APART * step
