"""What intervals hold and what they find, over simulated two-minute takes.

An interval of 95 % that is right may by chance hold the truth less often in so few trials: bounds
are three standard errors of a share of 0.95 below it. What wanders can hide more; those bounds
stand beside the check, and `tests/bench/bench_intervals.py` prints the whole table.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from simulated_takes import KINDS, SD_MS, errors, still_take, takes

from trainer.measure.figure import Figure, difference, is_clear, spread
from trainer.measure.offset import around_wander

if TYPE_CHECKING:
    from collections.abc import Sequence

TRIALS = 120
LEAST = 0.95 - 3 * math.sqrt(0.95 * 0.05 / TRIALS)


def held(found: Sequence[Figure], truth: float) -> float:
    """The share of figures whose interval holds the truth."""
    return float(np.mean([one.low <= truth <= one.high for one in found]))


def usual(found: Sequence[Figure]) -> float:
    """The spread that many takes have together (root mean square)."""
    return math.sqrt(np.mean([one.value**2 for one in found]))


@pytest.mark.parametrize("kind", KINDS)
def test_the_spread_about_the_wander_holds_its_truth_and_finds_a_fifth_less(kind: str) -> None:
    """Its interval covers 95 %, and a player who is a fifth tighter is found in 9 pairs of 10."""
    found = [around_wander(one) for one in takes(1, kind, TRIALS)]
    tighter = [
        Figure(0.8 * one.value, one.unit, one.count, 0.8 * one.low, 0.8 * one.high)
        for one in (around_wander(one) for one in takes(2, kind, TRIALS))
    ]

    assert held(found, usual(found)) >= LEAST
    changes = [difference(b, a) for a, b in zip(found, tighter, strict=True)]
    assert np.mean([is_clear(one) for one in changes]) >= 0.9
    assert max(one.value for one in changes) < 0


@pytest.mark.parametrize(("kind", "room"), [("white", 0), ("wander", 0.03), ("pink", 0.03)])
def test_the_whole_spread_holds_what_takes_have_together(kind: str, room: float) -> None:
    """800 strokes: 95 %; three hundredths fewer where memory has to be guessed."""
    rng = np.random.default_rng(3)
    rows = SD_MS * errors(rng, kind, TRIALS, np.zeros(800, int))
    found = [spread(row, "ms") for row in rows]

    assert held(found, usual(found)) >= LEAST - room


def test_white_strokes_count_almost_in_full() -> None:
    """A spread of 800 strokes that forget each other has nearly 799 degrees of freedom."""
    rng = np.random.default_rng(4)
    free = [spread(row, "ms").free for row in rng.normal(size=(50, 800))]

    assert np.mean(free) > 750
    assert max(free) <= 799


def test_the_spread_about_the_wander_needs_strokes() -> None:
    """Nothing played: withheld with what it needs."""
    frame = still_take(1)
    none = around_wander(replace(frame, played=np.zeros(len(frame.main), dtype=bool)))

    assert none.value is None
    assert none.why == "needs 5 strokes, there are 0"
