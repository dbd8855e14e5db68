"""How many strokes a verdict needs: a rung lasts until there is one, a short take has none."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from handmade import course, judged, line, pattern
from simulated_takes import KINDS, errors

from trainer.measure.clean import (
    STRICTNESS_LEVELS,
    clean_verdict,
    rung_verdict,
    strokes_taken_up,
    take_verdict,
)
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


@pytest.mark.parametrize(
    ("reached", "clean"), [(0, None), (1, None), (4, None), (7, None), (8, False), (16, False)]
)
def test_who_plays_few_strokes_is_not_judged_by_the_rest(reached: int, clean: bool | None) -> None:
    """The strokes written from the first played to the last decide if there is a verdict at all."""
    laid = course(pattern(line("snare " * 16)), 4)
    stopped = judged(laid, offset_ms=lambda target: 0.0 if target.index < reached else None)
    late = judged(laid, offset_ms=lambda target: None if target.index < 64 - reached else 0.0)
    for take in (stopped, late):
        found = take_verdict(take)
        assert (strokes_taken_up(take), found.clean) == (reached, clean)
        assert bool(found.failed) == (clean is False)


def test_strokes_that_are_missed_among_others_make_a_fault() -> None:
    """The last of eight decides, on whatever pad; a double trigger of the kit is no stroke."""
    laid = course(pattern(line("snare " * 16)))
    due_s = [target.time_s for target in laid.targets()]
    ends = judged(laid, offset_ms=lambda target: 0.0 if target.index in (0, 7) else None)
    assert take_verdict(ends).clean is False
    one = {"offset_ms": lambda target: 0.0 if target.index == 0 else None}
    later = due_s[9] + 0.02
    assert take_verdict(judged(laid, **one, extras=[(later, "extra")])).clean is False
    assert take_verdict(judged(laid, **one, extras=[(later, "double")])).clean is None
    assert take_verdict(judged(laid, **one, extras=[(due_s[15] + 9, "extra")])).clean is None


def test_a_whole_take_that_is_too_short_has_no_verdict() -> None:
    """Seven strokes say too little, with a fault as without one; a rung is judged all the same."""
    laid = course(pattern(line("snare " * 7)))
    for missing in ((), (1, 3, 5)):
        take = judged(laid, offset_ms=lambda target, at=missing: None if target.index in at else 0)
        assert take_verdict(take).clean is None
    assert clean_verdict(take).clean is False
    assert rung_verdict([take]).clean is False
