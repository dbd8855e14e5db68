"""Simulated learners gain more over a goal's patterns by tonight's evening than by one pattern.

A short version of tests/bench/bench_tonight.py, whose learners and assumptions it has.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from simulated_learners import Assumed, Learner, gains, planned, same_ladder

EVENINGS, MINUTES = 8, 20


@pytest.mark.parametrize("mixing", [0.0, 0.5])
def test_over_the_goals_patterns_tonight_gains_more(mixing: float) -> None:
    """Also where mixing itself helps nothing, and for the learner with least talent."""
    for talent in (0.2, 0.6):
        assumed = Assumed(talent=talent, mixing=mixing)
        tonight, _ = gains(planned, assumed, 1, EVENINGS, MINUTES)
        same, _ = gains(same_ladder, assumed, 1, EVENINGS, MINUTES)
        assert tonight > 1.2 * same > 0


def test_on_the_single_pattern_it_does_not() -> None:
    """Who needs one pattern alone should practise that: said in words, and held here."""
    one = Assumed()
    assert gains(planned, one, 1, EVENINGS, MINUTES)[1] < gains(same_ladder, one, 1, EVENINGS)[1]


def test_where_all_is_carried_over_the_difference_goes() -> None:
    """With full transfer between patterns no plan can win by much: the model is not made to."""
    whole = replace(Assumed(), transfer=1.0)
    tonight, _ = gains(planned, whole, 1, EVENINGS, MINUTES)
    same, _ = gains(same_ladder, whole, 1, EVENINGS, MINUTES)
    apart = gains(planned, Assumed(), 1, EVENINGS, MINUTES)[0]
    alone = gains(same_ladder, Assumed(), 1, EVENINGS, MINUTES)[0]
    assert tonight / same < apart / alone


def test_a_learner_forgets_and_tires() -> None:
    """Nights take something of what was gained; playing lowers the level, rest brings it back."""
    one = Learner(Assumed(forgetting=0.1), {"p0": 4.5}, random.Random(1))
    one.begin()
    same_ladder(one, 30, 200)
    gained = one.levels["p0"]
    assert gained > 4.5
    assert one.tired > 0
    one.rest(60)
    assert one.tired == 0
    for _ in range(5):
        one.sleep()
    assert 4.5 < one.levels["p0"] < gained
