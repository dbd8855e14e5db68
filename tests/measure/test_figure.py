"""Figures: withheld below their counts, never NaN, and their intervals cover what they say."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from trainer.measure import figure as measured
from trainer.measure.figure import (
    Figure,
    difference,
    independent_count,
    mean,
    plain_values,
    share,
    spread,
    withheld,
)


def _wander(rng: np.random.Generator, count: int, keep: float) -> np.ndarray:
    """A series that remembers the share `keep` of its last value; unit variance, mean 0."""
    made = np.empty(count)
    made[0] = rng.normal()
    for at in range(1, count):
        made[at] = keep * made[at - 1] + math.sqrt(1 - keep**2) * rng.normal()
    return made


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_values_are_withheld_with_the_reason(count: int) -> None:
    """Below the stated count there is no value, and the figure says what it needs."""
    for figure, needed in ((mean(np.ones(count), "ms"), 3), (spread(np.ones(count), "ms"), 5)):
        assert figure.value is None
        assert figure.why == f"needs {needed} strokes, has {count}"


def test_values_that_do_not_vary_have_a_mean_and_no_spread() -> None:
    """Equal values: the mean is theirs, the spread and the width of the interval are zero."""
    figure = mean(np.full(30, 4.0), "ms")

    assert (figure.value, figure.low, figure.high) == (4.0, 4.0, 4.0)
    assert spread(np.full(30, 4.0), "ms").value == 0.0


@pytest.mark.parametrize(("keep", "least"), [(0.0, 0.93), (0.6, 0.86)])
def test_the_interval_of_a_mean_covers_the_truth(keep: float, least: float) -> None:
    """Independent strokes: about 95 %; wandering ones: well above the 67 % that t alone reaches."""
    rng = np.random.default_rng(11)
    found = [mean(_wander(rng, 120, keep), "ms") for _ in range(400)]

    assert np.mean([one.low <= 0 <= one.high for one in found]) >= least


def test_the_interval_of_a_spread_covers_the_truth() -> None:
    """Of normal samples of 12, about 95 % hold the true standard deviation in their interval."""
    rng = np.random.default_rng(12)
    found = [spread(rng.normal(0, 3, 12), "ms") for _ in range(1000)]

    assert 0.935 <= np.mean([one.low <= 3 <= one.high for one in found]) <= 0.965


def test_strokes_that_wander_are_worth_fewer() -> None:
    """Memory of 0.6 makes n strokes worth n / 4; none leaves them close to n, never above."""
    rng = np.random.default_rng(13)

    assert independent_count(_wander(rng, 5000, 0.6)) == pytest.approx(5000 / 4, rel=0.2)
    assert 4000 <= independent_count(rng.normal(size=5000)) <= 5000


def test_a_long_wander_makes_mean_and_spread_less_sure() -> None:
    """Memory of 0.98 in 600 strokes with noise on top: what is called 95 % holds 85 at least.

    So long a memory cannot be known well from so few strokes; without any allowance for it the mean
    would be covered in about 40 of 100, the spread in 50.
    """
    rng = np.random.default_rng(14)
    rows = [_wander(rng, 600, 0.98) * 6 for _ in range(400)]
    made = [row + rng.normal(0, 8, 600) for row in rows]
    means, spreads = [mean(row, "ms") for row in made], [spread(row, "ms") for row in made]

    assert np.mean([one.low <= 0 <= one.high for one in means]) >= 0.85
    assert np.mean([one.low <= 10 <= one.high for one in spreads]) >= 0.85
    assert max(one.free for one in spreads) <= 599


@pytest.mark.parametrize("keep", [0.0, 0.9, 0.999])
def test_far_lags_are_summed_up_as_near_ones(keep: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """However long a series remembers, all lags at once say what they say one by one."""
    values = _wander(np.random.default_rng(5), 6000, keep)
    quick = independent_count(values)
    monkeypatch.setattr(measured, "NEAR_LAGS", len(values))

    assert quick == pytest.approx(independent_count(values), rel=1e-9)


def test_a_share_stays_inside_its_bounds() -> None:
    """None and all of a few have an interval that starts at 0 or ends at 100 %."""
    none, every = share(0, 10), share(10, 10)

    assert (none.value, none.low) == (0.0, 0.0)
    assert 20 < none.high < 35
    assert (every.value, every.high) == (100.0, 100.0)
    assert share(0, 0).why == "no strokes"


def test_a_difference_needs_both_sides() -> None:
    """A withheld side withholds the difference with its reason; two known ones give an interval."""
    one, other = Figure(5.0, "ms", 20, 4.0, 6.0), Figure(2.0, "ms", 10, 0.0, 4.0)
    found = difference(one, other)

    assert (found.value, found.count) == (3.0, 10)
    assert found.low == pytest.approx(3 - math.hypot(1, 2))
    assert found.high == pytest.approx(3 + math.hypot(1, 2))
    assert difference(one, withheld("ms", 1, "too few")).why == "too few"
    assert difference(Figure(5.0, "ms", 20), other).low is None


def test_figures_become_plain_values() -> None:
    """JSON gets value, unit, count, low and high; a reason and freedom where there are such."""
    assert plain_values(mean(np.array([1.0, 2.0, 3.0]), "ms"))["free"] == 2.0
    assert plain_values({"a": (Figure(1.0, "ms", 3), 2)}) == {
        "a": [{"value": 1.0, "unit": "ms", "count": 3, "low": None, "high": None}, 2]
    }
    assert json.dumps(plain_values(withheld("ms", 0, "too few"))).endswith('"why": "too few"}')
