"""Where an aimed ladder goes: it finds a first ceiling, and stays where most rungs are clean."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from simulated_takes import clean_chance

from trainer.measure.ceiling import RungOutcome, ceiling
from trainer.practice.ceiling_search import KnownCeiling, aimed_tempo
from trainer.practice.ladder import (
    AIMED,
    AIMED_STEP,
    Ladder,
    first_standing,
    next_standing,
)

PLAYERS, RUNGS = 40, 20


def climb(
    dice: random.Random, level: float, slope: float, start: float, known: KnownCeiling | None = None
) -> list[RungOutcome]:
    """Twenty rungs of a player whose chance to be clean falls along a curve."""
    ladder = Ladder(start, AIMED_STEP, rule=AIMED, known=known)
    standing, played = first_standing(ladder), []
    for _ in range(RUNGS):
        clean = dice.random() < clean_chance(standing.tempo, level, slope * level)
        played.append(RungOutcome(standing.tempo, clean))
        standing = next_standing(ladder, standing, clean)
    return played


def test_a_first_session_finds_the_ceiling() -> None:
    """From 5 to 30% below: within 2.5% (root mean square) after twenty rungs, and never open."""
    dice, errors = random.Random(3), []
    for _ in range(PLAYERS):
        level = dice.uniform(80, 200)
        found = ceiling(climb(dice, level, 0.03, round(dice.uniform(0.7, 0.95) * level)))
        assert found is not None
        assert not found.half.open_above
        assert not found.half.open_below
        errors.append(found.half.tempo / level - 1)

    assert math.sqrt(np.mean(np.square(errors))) < 0.025


def test_with_a_known_ceiling_most_rungs_are_clean() -> None:
    """A session of a player whose ceiling is known within 4%: 75 to 85% of the rungs are clean."""
    dice, clean = random.Random(4), []
    for _ in range(PLAYERS):
        level = dice.uniform(80, 200)
        form = level * math.exp(dice.gauss(0, 0.02))
        known = KnownCeiling(0.96 * level, 1.04 * level)
        clean += [one.clean for one in climb(dice, form, 0.04, round(0.88 * level), known)]

    assert 0.75 <= np.mean(clean) <= 0.85


def test_without_anything_known_nothing_is_claimed() -> None:
    """No rung, no ceiling: somewhere inside the range; a bound alone keeps to its side."""
    assert 20 < aimed_tempo([]) < 400
    assert aimed_tempo([], KnownCeiling(150.0, None)) > 150
    assert aimed_tempo([], KnownCeiling(None, 60.0)) < 60


@pytest.mark.parametrize("rungs", [[(400.0, True)] * 30, [(20.0, False)] * 30])
def test_a_player_beyond_the_range_stays_inside_it(rungs: list[tuple[float, bool]]) -> None:
    """All clean at the top, or none at the bottom: a number, and within the range."""
    assert 20 <= aimed_tempo(rungs) <= 400
