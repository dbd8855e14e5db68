"""The ceiling from few and many rungs, and how often its interval tells the truth."""

from __future__ import annotations

import math
import random

import pytest
from simulated_takes import clean_chance

from trainer.measure.ceiling import LN3, RungOutcome, ceiling, ceiling_history
from trainer.practice.ladder import ADAPTIVE, STEADY, Ladder, first_standing, next_standing


def _history(
    dice: random.Random, rule: str, rungs: int, middle: float, scale: float
) -> list[RungOutcome]:
    """Rungs of a simulated player with a known curve, on a ladder started 20 % below the middle."""
    ladder = Ladder(middle * 0.8, 2.0, rule=rule)
    standing, played = first_standing(ladder), []
    for _ in range(rungs):
        clean = dice.random() < clean_chance(standing.tempo, middle, scale)
        played.append(RungOutcome(standing.tempo, clean))
        standing = next_standing(ladder, standing, clean)
    return played


def test_the_interval_covers_the_truth_as_often_as_it_says() -> None:
    """Over 1,000 simulated histories the 90 % interval holds the true ceiling as often as it says.

    Players differ: middles from 60 to 200 BPM, slopes from 2 to 8 % of the middle; both rules, 5 to
    40 rungs. Two standard errors of a share of 0.9 in 1,000 are 0.019.
    """
    dice = random.Random(20)
    inside = {"half": 0, "three quarters": 0}
    for number in range(1000):
        middle = dice.uniform(60, 200)
        scale = middle * dice.uniform(0.02, 0.08)
        rule = (STEADY, ADAPTIVE)[number % 2]
        found = ceiling(_history(dice, rule, dice.randint(5, 40), middle, scale))
        assert found is not None
        lower = middle - scale * LN3
        inside["half"] += found.half.low <= middle <= found.half.high
        inside["three quarters"] += found.three_quarters.low <= lower <= found.three_quarters.high

    assert inside["half"] / 1000 >= 0.90 - 0.019
    assert inside["three quarters"] / 1000 >= 0.90 - 0.019


PLAYERS = {"still": (0.0, 0.0), "learning": (0.005, 0.0), "changing form": (0.0, 0.02)}
"""Gain a session, and standard deviation of a day's form, both as shares of the ceiling."""


@pytest.mark.parametrize(("gain", "form"), PLAYERS.values(), ids=PLAYERS)
def test_a_ceiling_that_moves_is_held(gain: float, form: float) -> None:
    """After 15 evenings of 15 rungs the interval holds the level, and "safe" is seldom wrong.

    Bounds are three standard errors of 60 trials below 0.90, and above 0.05 for "safe".
    """
    dice, held, wrong, trials = random.Random(4), 0, 0, 60
    for _ in range(trials):
        level, share = dice.uniform(80, 200), dice.uniform(0.02, 0.08)
        parts = []
        for evening in range(15):
            level *= 1 + gain * bool(evening)
            middle = level * math.exp(dice.gauss(0, form))
            parts.append((1.0, _history(dice, STEADY, 15, middle, share * middle)))
        found = ceiling_history(parts)[-1]
        held += found.half.low <= level <= found.half.high
        wrong += found.three_quarters.low > level * (1 - share * LN3)

    assert held / trials >= 0.90 - 3 * math.sqrt(0.9 * 0.1 / trials)
    assert wrong / trials <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / trials)


def test_days_without_practice_widen_the_interval() -> None:
    """The longer nothing was played, the less is known, and the best guess stays."""
    rungs = _history(random.Random(5), ADAPTIVE, 40, 120.0, 5.0)
    now, later = (ceiling_history([(0.0, rungs)], days)[-1].half for days in (0.0, 60.0))

    assert later.low < now.low
    assert later.high > now.high


def test_more_rungs_narrow_the_interval() -> None:
    """The interval shrinks as rungs gather."""
    dice = random.Random(5)
    history = _history(dice, ADAPTIVE, 120, 120.0, 5.0)
    few, many = ceiling(history[:10]), ceiling(history)

    assert few is not None
    assert many is not None
    assert many.half.high - many.half.low < few.half.high - few.half.low


def test_no_rungs_give_no_ceiling() -> None:
    """Nothing played, nothing claimed."""
    assert ceiling([]) is None


def test_an_unbounded_ceiling_says_so() -> None:
    """All clean: only a lower bound; all failed: only an upper one."""
    clean, failed = ceiling([RungOutcome(80, True)] * 5), ceiling([RungOutcome(80, False)] * 5)

    assert clean is not None
    assert failed is not None
    assert (clean.half.open_above, clean.half.open_below) == (True, False)
    assert (failed.half.open_above, failed.half.open_below) == (False, True)
    assert 70 < clean.half.tempo == clean.half.low
    assert 95 > failed.half.tempo == failed.half.high


def test_old_rungs_count_less() -> None:
    """A ceiling follows the player: last year's failures do not hold it down."""
    old = [RungOutcome(90, False, days_ago=300)] * 10
    new = [
        RungOutcome(100, True),
        RungOutcome(104, True),
        RungOutcome(108, False),
        RungOutcome(106, True),
    ]
    found = ceiling(old + new)

    assert found is not None
    assert found.half.tempo > 100
