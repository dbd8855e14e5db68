"""Where a ladder goes after a rung."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadInput
from trainer.practice.ladder import (
    ADAPTIVE,
    LADDER_RULES,
    LONGER,
    Ladder,
    check_ladder,
    chosen_rule,
    first_standing,
    next_standing,
)


def _walk(ladder: Ladder, outcomes: str) -> list[float]:
    standing = first_standing(ladder)
    tempos = [standing.tempo]
    for outcome in outcomes:
        standing = next_standing(ladder, standing, outcome == "c")
        tempos.append(standing.tempo)
    return tempos


def test_steady_goes_up_repeats_and_steps_back() -> None:
    """One step up when clean, again when not, one back after two failures in a row."""
    assert _walk(Ladder(60, 2), "ccffcfcff") == [60, 62, 64, 64, 62, 64, 64, 66, 66, 64]


@pytest.mark.parametrize(
    ("given", "chosen"),
    [
        ((None, None), ("aimed", 8.0)),
        ((None, 2.0), ("steady", 2.0)),
        (("aimed", 4.0), ("aimed", 4.0)),
        (("steady", None), ("steady", 1.0)),
    ],
)
def test_a_step_alone_means_the_steady_rule(
    given: tuple[str | None, float | None], chosen: tuple[str, float]
) -> None:
    """Routines written with a step climb as they always did; without one a ladder is aimed."""
    assert chosen_rule(*given) == chosen


def test_adaptive_halves_its_step_at_each_reversal() -> None:
    """The step halves whenever the heading turns, down to the smallest."""
    ladder = Ladder(100, 4, rule=ADAPTIVE, clean_to_rise=1, smallest=1)

    assert _walk(ladder, "ccfcfc") == [100, 104, 108, 106, 107, 106, 107]


def test_the_ladder_stays_inside_its_range() -> None:
    """Neither top nor bottom is passed."""
    assert _walk(Ladder(98, 4, top=100), "ccc")[-1] == 100
    assert _walk(Ladder(22, 4), "ffff")[-1] == 20


def test_a_longer_rung_doubles_and_halves_at_one_tempo() -> None:
    """A clean rung makes the next one twice as long, another one half; never below the first."""
    ladder = Ladder(100, rule=LONGER)
    standing, times = first_standing(ladder), []
    for outcome in "cccffff" + "c" * 9:
        standing = next_standing(ladder, standing, outcome == "c")
        times.append(standing.times)

    assert times == [2, 4, 8, 4, 2, 1, 1, 2, 4, 8, 16, 32, 64, 64, 64, 64]
    assert standing.tempo == 100


@given(
    st.text("cf", max_size=60),
    st.sampled_from(LADDER_RULES),
    st.integers(1, 3),
    st.floats(0.25, 8),
)
def test_any_ladder_keeps_its_range_and_its_step(
    outcomes: str, rule: str, rise: int, step: float
) -> None:
    """No outcome sequence leaves the range or moves by more than the first step."""
    tempos = _walk(Ladder(60, step, top=90, rule=rule, clean_to_rise=rise), outcomes)

    assert all(20 <= tempo <= 90 for tempo in tempos)
    assert all(abs(b - a) <= step * 1.000001 for a, b in pairwise(tempos))


@pytest.mark.parametrize(
    ("ladder", "words"),
    [
        (Ladder(60, 0), "cannot move"),
        (Ladder(60, -1), "cannot move"),
        (Ladder(60, float("nan")), "cannot move"),
        (Ladder(60, float("inf")), "cannot move"),
        (Ladder(60, 1e9), "at most 100"),
        (Ladder(60, 1, top=50), "below its start"),
        (Ladder(5, 1), "out of range"),
        (Ladder(60, 1, rule="wild"), "no ladder rule"),
        (Ladder(60, 1, rule=ADAPTIVE, clean_to_rise=9), "not a choice"),
    ],
)
def test_a_ladder_that_cannot_work_is_refused(ladder: Ladder, words: str) -> None:
    """A ladder that cannot move, or leaves the range, is found before the first click."""
    with pytest.raises(BadInput, match=words):
        check_ladder(ladder)
