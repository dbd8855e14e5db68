"""What length costs: found where it costs, none where it does not, withheld with too little."""

from __future__ import annotations

import random

import numpy as np
import pytest
from simulated_takes import clean_chance

from trainer.measure.endurance import LongRung, endurance

PLAYERS = 25


def climbed(dice: random.Random, lost: float, form: float = 0.0) -> tuple[list[LongRung], float]:
    """Forty rungs of 32 to 512 strokes about the ceiling of each length, and that of 64."""
    level, made = dice.uniform(80, 200), []
    for place in range(40):
        strokes = 32 * 2 ** (place % 5)
        middle = level * 2 ** (-lost * np.log2(strokes / 64)) * (1 + dice.gauss(0, form))
        tempo = round(middle * dice.uniform(0.85, 1.12))
        made.append(
            LongRung(tempo, strokes, dice.random() < clean_chance(tempo, middle, 0.03 * middle))
        )
    return made, level


@pytest.mark.parametrize(("lost", "form"), [(0.0, 0.0), (0.03, 0.0), (0.08, 0.0), (0.03, 0.02)])
def test_what_a_doubling_costs_is_held(lost: float, form: float) -> None:
    """90% of the intervals, less three errors, hold the truth, for the loss and for a burst."""
    dice, held, burst = random.Random(3), [], []
    for _ in range(PLAYERS):
        rungs, level = climbed(dice, lost, form)
        found = endurance(rungs)
        truth = 100 * lost
        held.append(found.lost.low <= truth <= found.lost.high)
        burst.append(found.at[32].low <= level * 2**lost <= found.at[32].high)

    least = 0.90 - 3 * np.sqrt(0.9 * 0.1 / PLAYERS)
    assert np.mean(held) >= least
    assert np.mean(burst) >= least


def test_a_loss_of_8_percent_a_doubling_is_found() -> None:
    """In 9 players of 10 the interval leaves out zero, and endurance lies below the burst."""
    dice = random.Random(4)
    found = [endurance(climbed(dice, 0.08)[0]) for _ in range(PLAYERS)]

    assert np.mean([one.lost.low > 0 for one in found]) >= 0.9
    assert all(one.at[512].value < one.at[32].value for one in found)


def test_too_little_is_withheld() -> None:
    """No rung, few, all clean, all of one length, lengths not known: each says what it needs."""
    one = LongRung(100.0, 64, True)

    assert endurance([]).lost.why == "needs 12 rungs, has 0"
    assert endurance([one] * 20).lost.why == "needs clean rungs and others"
    mixed = [LongRung(100.0, 64, place % 2 == 0) for place in range(20)]
    assert endurance(mixed).at[32].why == "needs rungs 4 times as long as others"
    assert endurance([LongRung(100.0, 0, True)] * 20).lost.why == "needs 12 rungs, has 0"
