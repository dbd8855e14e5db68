"""After a mistake: how long it lasts is found, and nothing where nothing lasts."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from simulated_takes import KINDS, still_take, takes

from trainer.measure.after_mistake import after_mistakes
from trainer.practice.outcomes import MISSED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays

TRIALS = 40


def made(kind: str, lasts: int, times: float, share: float = 0.02) -> list[TakeArrays]:
    """Takes with mistakes, each followed by strokes whose errors are so many times as large."""
    frame, rng, found = still_take(), np.random.default_rng(9), []
    beats = np.cumsum(np.diff(frame.beat + 1000.0 * frame.row, prepend=-1.0) != 0)
    for one in takes(21, kind, TRIALS):
        failed = (rng.random(len(frame.main)) < share) & frame.main
        wide = np.ones(len(frame.main))
        for at in np.flatnonzero(failed):
            near = (beats > beats[at]) & (beats <= beats[at] + lasts)
            wide[near & (frame.row == frame.row[at])] = times
        white = rng.normal(0, 5.0, (2, len(wide))) * np.sqrt(wide**2 - 1)
        found.append(
            replace(
                one,
                outcome=np.where(failed, TARGET_OUTCOMES.index(MISSED), one.outcome),
                played=one.played & ~failed,
                offset_ms=one.offset_ms + white[0],
                velocity=one.velocity + white[1],
            )
        )
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_what_lasts_four_strokes_is_found(kind: str) -> None:
    """Errors four times as large for four strokes: 95% of intervals, less three errors, hold it."""
    found = [after_mistakes(one) for one in made(kind, 4, 4.0)]

    for name in ("time", "power"):
        figures = [getattr(one, name) for one in found]
        least = 0.95 - 3 * np.sqrt(0.95 * 0.05 / TRIALS)
        assert np.mean([one.low <= 4 <= one.high for one in figures]) >= least
        assert np.mean([one.value > 0 for one in figures]) >= 0.9


@pytest.mark.parametrize("kind", KINDS)
def test_where_nothing_lasts_nothing_is_said(kind: str) -> None:
    """Mistakes that leave no trace: none in 19 of 20, less three errors."""
    found = [after_mistakes(one) for one in made(kind, 0, 1.0)]

    for name in ("time", "power", "place"):
        assert np.mean([getattr(one, name).value == 0 for one in found]) >= 0.85


def test_mistakes_that_come_in_runs_are_a_matter_of_place() -> None:
    """After a mistake the next three strokes fail three times in ten: found in 9 takes of 10."""
    frame, rng, found = still_take(), np.random.default_rng(4), []
    for one in takes(22, "white", TRIALS):
        failed, left = np.zeros(len(frame.main), dtype=bool), 0
        for at in np.flatnonzero(frame.main):
            failed[at] = rng.random() < (0.3 if left else 0.02)
            left = 3 if failed[at] else max(0, left - 1)
        outcome = np.where(failed, TARGET_OUTCOMES.index(MISSED), one.outcome)
        found.append(after_mistakes(replace(one, outcome=outcome, played=one.played & ~failed)))

    assert np.mean([one.place.value > 0 for one in found]) >= 0.9
    assert np.mean([one.place.low <= 3 <= one.place.high for one in found]) >= 0.8


def test_too_few_mistakes_and_none() -> None:
    """A clean take, and one with nothing in it: withheld with what it needs."""
    frame = still_take(1)

    assert after_mistakes(frame).time.why == "needs 8 mistakes, has 0"
    empty = replace(frame, main=np.zeros(len(frame.main), dtype=bool))
    assert after_mistakes(empty).place.value is None
