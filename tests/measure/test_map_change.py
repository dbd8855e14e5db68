"""What differs between two takes in a cell: the first minus the second, with its interval."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from trainer.measure.figure import is_clear
from trainer.measure.hit_map import LandedTargets, cell_change, part
from trainer.practice.outcomes import MISSED, PLAYED, TARGET_OUTCOMES


def take(offsets_ms: list[float], missed: int = 0, velocity: float = 80.0) -> LandedTargets:
    """Return one note that was played at these offsets, and missed some times more."""
    count = len(offsets_ms) + missed
    codes = [TARGET_OUTCOMES.index(PLAYED)] * len(offsets_ms)
    codes += [TARGET_OUTCOMES.index(MISSED)] * missed
    return LandedTargets(
        notes=1,
        note=np.zeros(count, dtype=np.int64),
        row=np.arange(count),
        when_s=np.arange(count, dtype=np.float64),
        offset_ms=np.array([*offsets_ms, *[np.nan] * missed]),
        velocity=np.array([*[velocity] * len(offsets_ms), *[np.nan] * missed]),
        outcome=np.array(codes),
    )


def all_of(one: LandedTargets) -> tuple[LandedTargets, np.ndarray]:
    """Return a take with all of its targets chosen."""
    return one, part(one, until_s=math.inf)


FIRST, SECOND = [4.0, 6.0, 9.0, 5.0, 7.0, 8.0], [-3.0, 0.0, 2.0, -1.0, 1.0, -2.0]


def test_the_interval_covers_that_of_welch() -> None:
    """Two means with equal spreads: close to Welch's interval (SciPy), and never much narrower."""
    change = cell_change(all_of(take(FIRST)), all_of(take(SECOND)), [0])

    welch = stats.ttest_ind(FIRST, SECOND, equal_var=False).confidence_interval(0.95)
    assert change.offset.value == pytest.approx(7.0)
    assert change.offset.low == pytest.approx(welch.low, abs=0.5)
    assert change.offset.high == pytest.approx(welch.high, abs=0.5)
    assert is_clear(change.offset)


def test_turned_round_every_sign_changes() -> None:
    """The difference of the second from the first is the same with the other sign."""
    one, other = all_of(take(FIRST, 2, 90.0)), all_of(take(SECOND, 1))
    change, back = cell_change(one, other, [0]), cell_change(other, one, [0])
    for name in ("offset", "spread", "faults", "power"):
        there, here = getattr(change, name), getattr(back, name)
        assert (there.value, there.low) == (pytest.approx(-here.value), pytest.approx(-here.high))


def test_the_same_take_differs_in_nothing() -> None:
    """Zero lies inside every interval."""
    one = all_of(take(FIRST, 1))
    change = cell_change(one, one, [0])
    reported = (change.offset, change.spread, change.faults)
    assert [figure.value for figure in reported] == [0.0, 0.0, 0.0]
    assert not any(is_clear(figure) for figure in reported)


def test_too_few_strokes_show_nothing() -> None:
    """Two strokes have no mean worth comparing, and say so."""
    change = cell_change(all_of(take(FIRST[:2])), all_of(take(SECOND)), [0])
    assert change.offset.value is None
    assert change.offset.why
    assert not is_clear(change.offset)


def test_missed_strokes_are_faults() -> None:
    """Six of eight missed against none of six is 75 per cent more, and no chance."""
    change = cell_change(all_of(take([1.0, 2.0], 6)), all_of(take(SECOND)), [0])
    assert change.faults.value == 75.0
    assert is_clear(change.faults)
