"""A rung lasts as long as the answer needs: what it calls clean, and after how many strokes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from handmade import course, judged, line, pattern
from simulated_takes import KINDS, errors

from trainer.measure.clean import STRICTNESS_LEVELS, rung_verdict
from trainer.measure.threshold import just_noticeable_ms, spread_bounds
from trainer.practice.ladder_plan import FEWEST_STROKES, MOST_STROKES

if TYPE_CHECKING:
    from trainer.practice.ladder import RungVerdict

RUNGS = 60
BAR = pattern(line("snare " * 16))
SOLID = STRICTNESS_LEVELS["solid"]
EVEN_MS = SOLID.evenness_times * just_noticeable_ms(150.0)
"""White jitter at which evenness, which binds before spread, is at its limit."""


def rung(series: np.ndarray) -> RungVerdict:
    """Play bars of sixteen until the answer is there, each with the next errors (ms)."""
    strokes = FEWEST_STROKES
    while True:
        laid = course(BAR, strokes // 16)
        played = judged(laid, offset_ms=lambda target: series[target.index])
        found = rung_verdict([played], strokes + 8 <= MOST_STROKES)
        if not found.undecided:
            return found
        strokes += 16


def rungs(kind: str, share: float, seed: int = 1) -> list[RungVerdict]:
    """Rungs of a player whose jitter is a share of the limit."""
    rng = np.random.default_rng(seed)
    made = errors(rng, kind, RUNGS, np.tile([0, 1], 120))
    return [rung(share * EVEN_MS * one) for one in made]


def test_at_nine_tenths_clean_at_six_fifths_not() -> None:
    """White jitter: 0.9 of the limit is clean in 49 of 50, 1.2 is not in 19 of 20."""
    under, over = rungs("white", 0.9), rungs("white", 1.2)

    assert np.mean([one.clean for one in under]) >= 0.98 - 3 * math.sqrt(0.02 * 0.98 / RUNGS)
    assert np.mean([one.clean for one in over]) <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / RUNGS)


@pytest.mark.parametrize("kind", KINDS)
def test_who_wanders_is_not_called_unclean_by_chance(kind: str) -> None:
    """At nine tenths of the limit hardly any rung is unclean, whatever wanders."""
    assert np.mean([one.clean for one in rungs(kind, 0.9)]) >= 0.94


def test_a_clear_case_is_short_and_a_close_one_long() -> None:
    """Half of the limit: answered at the first look; at the limit it takes several bars more."""
    clear, close = rungs("white", 0.5), rungs("white", 1.0)

    assert np.median([one.strokes for one in clear]) == FEWEST_STROKES
    assert np.mean([one.strokes for one in close]) > 1.5 * FEWEST_STROKES
    assert max(one.strokes for one in close) <= MOST_STROKES


def test_the_limit_that_binds_is_named() -> None:
    """For white jitter evenness comes before spread, in a clean rung and in one that is not."""
    clean, unclean = rungs("white", 0.8)[0], rungs("white", 1.4)[0]

    assert clean.tightest.startswith("hands uneven by ")
    assert not clean.failed
    assert unclean.failed[0].startswith("hands uneven by ")
    assert unclean.tightest == ""


def test_a_rung_of_chosen_length_is_never_open() -> None:
    """The player said how long: the answer comes after that."""
    played = [judged(course(BAR), offset_ms=lambda _: 0.0)]

    assert not rung_verdict(played).undecided
    assert not rung_verdict([judged(course(BAR), offset_ms=lambda _: None)], True).undecided
    assert not rung_verdict([], True).clean


@pytest.mark.parametrize("free", [1.0, 8.0, 31.0, 400.0])
def test_the_bounds_close_in_on_each_other(free: float) -> None:
    """Few strokes leave both answers open, many hardly a gap between them."""
    low, high = spread_bounds(10.0, free, 0.02)
    later = spread_bounds(10.0, 4 * free, 0.02)

    assert 0 <= low < high
    assert later[0] >= low
    assert later[1] < high
