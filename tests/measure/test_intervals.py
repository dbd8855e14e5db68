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

from trainer.measure.evenness import evenness
from trainer.measure.figure import Figure, difference, is_clear, mean, spread
from trainer.measure.offset import around_wander
from trainer.measure.power import power
from trainer.measure.stroke_group import moves
from trainer.measure.take_arrays import LEFT_FOOT, LEFT_HAND
from trainer.measure.trend import take_trends
from trainer.measure.unison import unisons

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


@pytest.mark.parametrize("kind", KINDS)
def test_the_spread_of_intervals_holds_its_truth(kind: str) -> None:
    """Intervals share strokes; hands that wander apart make them long and short in turn."""
    found = [evenness(one).spread for one in takes(11, kind, TRIALS)]

    assert held(found, usual(found)) >= LEAST


@pytest.mark.parametrize("kind", KINDS)
def test_the_mean_offset_holds_its_truth(kind: str) -> None:
    """0 whatever wanders; where nothing does, the interval is as narrow as independent strokes."""
    found = [mean(one.offset_ms[one.played], "ms") for one in takes(12, kind, TRIALS)]

    assert held(found, 0.0) >= LEAST
    if kind == "white":
        widths = [one.high - one.low for one in found]
        assert np.median(widths) < 1.2 * 2 * 1.96 * SD_MS / math.sqrt(found[0].count)


@pytest.mark.parametrize("kind", KINDS)
def test_a_limb_of_few_strokes_holds_its_mean(kind: str) -> None:
    """The left foot's hundred strokes hide a slow wander: their interval is wide enough for it."""
    frame = still_take()
    foot = frame.limb == LEFT_FOOT
    found = [mean(one.offset_ms[foot], "ms") for one in takes(14, kind, TRIALS)]

    assert int(foot.sum()) == 100
    assert held(found, 0.0) >= LEAST


@pytest.mark.parametrize("kind", KINDS)
def test_audible_orders_in_a_row_count_as_fewer(kind: str) -> None:
    """Where limbs wander apart the wide gaps come together, and the share's interval knows it."""
    found = [unisons(one).by_kind["hand+foot"].flams for one in takes(15, kind, TRIALS)]

    assert held(found, float(np.mean([one.value for one in found]))) >= LEAST


def test_a_long_memory_of_few_strokes_has_a_mean() -> None:
    """A slow wave under `WANDER_WAVES` strokes is read as before; one that never moves has none."""
    slow = np.cumsum(np.random.default_rng(1).normal(size=60))

    assert mean(slow, "ms").high - mean(slow, "ms").low > 4 * np.std(slow) / math.sqrt(60)
    assert mean(np.full(200, 3.0), "ms").low == mean(np.full(200, 3.0), "ms").high == 3.0


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
    assert none.why == "needs 5 strokes, has 0"


FEW = 60
LEAST_OF_FEW = 0.95 - 3 * math.sqrt(0.95 * 0.05 / FEW)


@pytest.mark.parametrize("kind", KINDS)
def test_intervals_of_power_hold_their_truth(kind: str) -> None:
    """Equal strokes' unevenness, the hands' balance and a drum against the others."""
    found = [power(one) for one in takes(5, kind, FEW)]

    uneven = [one.uneven for one in found]
    assert held(uneven, usual(uneven)) >= LEAST_OF_FEW
    assert held([one.balance for one in found], 0.0) >= LEAST_OF_FEW
    assert held([one.voices["tom1"] for one in found], 0.0) >= LEAST_OF_FEW


@pytest.mark.parametrize("kind", ["wander", "pink"])
def test_two_steps_between_the_hands_are_found_under_wander(kind: str) -> None:
    """What moves both hands alike does not hide a small difference of power between them."""
    left = 2.0 * (still_take().limb == LEFT_HAND)
    made = [replace(one, velocity=one.velocity - left) for one in takes(6, kind, FEW)]

    assert np.mean([power(one).balance.low > 0 for one in made]) >= 0.8


def test_one_soft_drum_is_seen() -> None:
    """A drum 24 steps softer than the others is so beyond chance in 9 takes of 10."""
    frame = still_take()
    soft = 24.0 * (frame.voice == frame.names["voice"].index("tom1"))
    made = [replace(one, velocity=one.velocity - soft) for one in takes(7, "wander", FEW)]

    assert np.mean([power(one).voices["tom1"].high < 0 for one in made]) >= 0.9


@pytest.mark.parametrize("kind", KINDS)
def test_a_move_is_compared_with_staying_whatever_wanders(kind: str) -> None:
    """How much later and wider a move lands: as staying does, and narrow intervals say so."""
    found = [moves(one).by_move["RH snare to tom1"] for one in takes(8, kind, FEW)]

    assert held([one.later for one in found], 0.0) >= LEAST_OF_FEW
    assert held([one.wider for one in found], 0.0) >= LEAST_OF_FEW
    assert np.mean([one.wider.high - one.wider.low for one in found]) < SD_MS / 2


@pytest.mark.parametrize(("kind", "room"), [("white", 0), ("wander", 0.03), ("limbs", 0)])
def test_a_trend_of_power_holds_none_where_there_is_none(kind: str, room: float) -> None:
    """A wander that comes back is no trend; only 1/f noise still looks like one too often."""
    found = [take_trends(one).session.power for one in takes(9, kind, TRIALS)]

    assert held(found, 0.0) >= LEAST - room


def test_a_fade_of_power_is_found() -> None:
    """Two minutes that lose 30 steps under wander: the trend is down in 8 takes of 10 at least."""
    fade = 30 * still_take().time_s / 120
    made = [replace(one, velocity=one.velocity - fade) for one in takes(10, "wander", TRIALS)]

    assert np.mean([take_trends(one).session.power.high < 0 for one in made]) >= 0.8
