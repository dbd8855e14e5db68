"""Clean or not: fair to good players, plain about the rest, and about too few strokes."""

from __future__ import annotations

import random

import pytest
from handmade import course, judged, player, walk

from trainer.errors import Faults
from trainer.measure.clean import LEVELS, NOISE, verdict
from trainer.measure.clean_table import tolerance


def test_the_course_itself_is_clean_on_every_level() -> None:
    """A take without any fault passes the strictest level."""
    for level in LEVELS.values():
        assert verdict(judged(course(walk(), 2)), level).clean


def test_a_good_player_is_clean_and_a_sloppy_one_is_not() -> None:
    """On the middle level at 100 BPM: 6 ms of jitter passes, 14 ms does not."""
    laid = course(walk(4), 2)
    good = [verdict(judged(laid, offset_ms=player(seed, 6.0))).clean for seed in range(40)]
    sloppy = [verdict(judged(laid, offset_ms=player(seed, 14.0))).clean for seed in range(40)]

    assert sum(good) >= 39
    assert sum(sloppy) == 0


def test_a_failure_says_what_and_by_how_much() -> None:
    """The worst failure comes first, with its figure, its unit and what is allowed."""
    found = verdict(judged(course(walk(4)), offset_ms=player(1, 25.0)))

    assert not found.clean
    assert any(
        text.startswith("hands spread ") and " ms, allowed " in text for text in found.reasons()
    )
    assert [one.excess for one in found.failed] == sorted(
        (one.excess for one in found.failed), reverse=True
    )


def test_few_strokes_are_not_called_unclean_by_chance() -> None:
    """A player exactly at a limit fails that check about once in fifty at most, few or many."""
    limit = LEVELS["stage"].spread_times * 6.0
    for bars in (1, 4):
        laid = course(walk(bars))
        failed = 0
        for seed in range(400):
            found = verdict(judged(laid, offset_ms=player(seed, limit)))
            failed += any(one.name == "spread.hands.16" for one in found.failed)

        assert failed / 400 <= 2.5 * NOISE


def test_one_miss_in_a_short_pass_is_let_go_but_two_are_not() -> None:
    """In 22 strokes one miss is within chance on the middle level; two are not."""
    laid = course(walk())

    def missing(count: int) -> bool:
        rng = random.Random(3)
        gone = set(rng.sample(range(22), count))
        return verdict(
            judged(laid, offset_ms=lambda target: None if target.index in gone else 0.0)
        ).clean

    assert missing(1)
    assert not missing(2)


def test_nothing_played_and_nothing_asked_are_not_clean() -> None:
    """Silence is no reason to go up a rung."""
    assert not verdict(judged(course(walk()), offset_ms=lambda target: None)).clean
    assert not verdict(judged(course(walk(), 0))).clean


def test_doubles_are_the_kits_and_strays_the_players() -> None:
    """Double triggers never make a take unclean; as many stray strokes do."""
    laid = course(walk())
    times = [2.0 + n * 0.1 for n in range(10)]

    assert verdict(judged(laid, extras=[(t, "double") for t in times])).clean
    strays = verdict(judged(laid, extras=[(t, "extra") for t in times]))
    assert strays.reasons()[0].startswith("stray strokes 10")


def test_a_constant_lag_is_clean() -> None:
    """A kit or a player late by 40 ms throughout is not punished."""
    assert verdict(judged(course(walk()), offset_ms=lambda target: 40.0)).clean


def test_a_table_overrides_a_level() -> None:
    """A `[clean]` table takes a level by name and any figure besides."""
    made = tolerance({"level": "studio", "gap_ms": 12})

    assert made.gap_ms == 12.0
    assert made.spread_times == LEVELS["studio"].spread_times
    assert tolerance(made.to_dict()) == made


def test_each_fault_of_a_table_is_told_with_its_mend() -> None:
    """Unknown levels and keys and useless figures are told together."""
    with pytest.raises(Faults) as caught:
        tolerance({"level": "stagy", "gap": 3, "rim_percent": "few", "power_steps": float("nan")})

    text = str(caught.value)
    assert 'there is no strictness level "stagy"' in text
    assert 'did you mean "gap_ms"' in text
    assert '"few" is no use here' in text
    assert "power_steps: nan is no use here" in text
