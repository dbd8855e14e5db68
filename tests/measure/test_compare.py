"""Two takes side by side: real changes are named, chance is not."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from trainer.kit.model import GENERAL_MIDI
from trainer.measure.comparison import compare_readings
from trainer.measure.reading import read_take
from trainer.midi.simulated_player import SimulatedPlayer, Traits
from trainer.pattern.library import load_pattern
from trainer.pattern.model import Limb
from trainer.practice.course import Course, Pass, pass_end
from trainer.practice.matcher import judge

STEADY = Traits(jitter_s=0.010, miss=0.01, power_jitter=7.0)


def _summary(traits: Traits, seed: int, seconds: float = 60) -> dict[str, Any]:
    pattern = load_pattern("fives-and-threes-feet")
    passes: list[Pass] = []
    start_s = 1.0
    while start_s < seconds:
        passes.append(Pass(len(passes), 100.0, start_s, end_s=seconds))
        start_s = pass_end(pattern, passes[-1])
    course = Course(pattern, tuple(passes))
    player = SimulatedPlayer(GENERAL_MIDI, seed, traits)
    player.expect(course.targets())
    strikes = [made for made in player.poll(1e9) if hasattr(made, "velocity")]
    return read_take(judge(course, strikes, GENERAL_MIDI)).to_dict()


def test_a_steadier_take_is_named_as_better() -> None:
    """A spread that fell from 10 to 6 ms changed beyond chance, for the better."""
    changes = compare_readings(_summary(STEADY, 1), _summary(replace(STEADY, jitter_s=0.006), 2))
    by_name = {one.name: one for one in changes}

    assert by_name["spread"].beyond_chance
    assert by_name["spread"].better is True
    assert (by_name["spread"].change.value or 0) < -2
    assert by_name["missed or on a wrong pad"].beyond_chance is False


def test_a_moved_offset_is_neither_better_nor_worse() -> None:
    """Playing later is a change, not a fault."""
    changes = compare_readings(_summary(STEADY, 1), _summary(replace(STEADY, bias_s=0.015), 2))
    mean = next(one for one in changes if one.name == "mean offset")

    assert mean.beyond_chance
    assert mean.better is None


def test_a_foot_that_lags_is_seen_against_the_hand() -> None:
    """A player who wanders hides the foot's own offset; its gap to the hand is not touched."""
    wanders = replace(STEADY, drift_s=0.006)
    for seed in range(5):
        lagging = replace(wanders, lag_s={Limb.RF: 0.016})
        changes = compare_readings(_summary(wanders, seed), _summary(lagging, seed + 50))
        gap = next(one for one in changes if one.name == "hand after the foot by")
        assert gap.beyond_chance
        assert -16 < (gap.change.value or 0) < -6


@pytest.mark.parametrize(
    "player",
    [STEADY, replace(STEADY, drift_s=0.006), replace(STEADY, drift_s=0.012)],
    ids=["steady", "wanders", "wanders far"],
)
def test_two_takes_of_one_player_differ_by_chance_alone(player: Traits) -> None:
    """Over 40 pairs of equal players, at most 6 pairs show any change (expected: 2)."""
    summaries = [_summary(player, seed, 40) for seed in range(80)]
    misled = sum(
        any(one.beyond_chance for one in compare_readings(*pair))
        for pair in zip(summaries[::2], summaries[1::2], strict=True)
    )

    assert misled <= 6


def test_the_same_take_twice_has_not_changed() -> None:
    """A take against itself differs in nothing."""
    one = _summary(STEADY, 3)

    assert all(
        change.change.value == 0 and not change.beyond_chance
        for change in compare_readings(one, one)
    )
