"""Staying power: what grows inside a rung and over the session, and what is not claimed."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from handmade import course, judged, line, pattern, player

from trainer.measure.reading import read_take


def _long(passes: int, rungs: bool = False):
    return course(pattern(line("snare " * 48)), passes, rungs=rungs)


def test_spread_that_grows_is_seen() -> None:
    """Spread growing from 4 to 16 ms over the session is a trend surely above zero."""
    rng = random.Random(2)
    laid = _long(8)
    length = laid.targets()[-1].time_s
    made = judged(laid, offset_ms=lambda t: rng.gauss(0, 4 + 12 * t.time_s / length))
    found = read_take(made).staying.session.spread

    assert found.low > 0
    assert found.value == pytest.approx(12 / (length / 60), rel=0.4)


def test_power_that_fades_is_minus() -> None:
    """Velocity falling by 20 in the course of the session has that slope."""
    laid = _long(8)
    length = laid.targets()[-1].time_s
    made = judged(laid, velocity=lambda t: round(100 - 20 * t.time_s / length))
    found = read_take(made).staying.session.power

    assert found.value == pytest.approx(-20 / (length / 60), rel=0.05)


def test_errors_that_come_with_time_are_seen() -> None:
    """Ever more strokes missed: per cent points a minute above zero."""
    rng = random.Random(5)
    laid = _long(10)
    length = laid.targets()[-1].time_s
    made = judged(laid, offset_ms=lambda t: None if rng.random() < 0.5 * t.time_s / length else 0.0)

    assert read_take(made).staying.session.errors.low > 0


def test_errors_are_reported_in_points_a_minute() -> None:
    """Each half of a pass has one stroke in 24 more missed than in the pass before."""
    laid = _long(8)
    minutes = (laid.passes[1].start_s - laid.passes[0].start_s) / 60
    made = judged(laid, offset_ms=lambda t: None if t.note_index % 24 < t.pass_index else 0.0)

    found = read_take(made).staying.session.errors
    assert found.value == pytest.approx(100 / 24 / minutes, rel=0.1)


def test_rare_errors_have_no_certain_trend() -> None:
    """Two misses in eight passes: most blocks are equal, and no interval of no width is claimed."""
    made = judged(_long(8), offset_ms=lambda t: None if t.index in (30, 300) else 0.0)
    found = read_take(made).staying.session.errors

    assert found.value == 0.0
    assert (found.low, found.high) == (None, None)


def test_a_steady_player_has_no_trend() -> None:
    """Of 40 steady players no more than a few seem to change."""
    found = [
        read_take(judged(_long(8), offset_ms=player(seed, 8.0))).staying.session.spread
        for seed in range(40)
    ]

    assert sum(one.low > 0 or one.high < 0 for one in found) <= 5


def test_a_ladder_that_never_returns_shows_nothing_over_the_session() -> None:
    """Each rung at its own tempo: inside the rungs yes, over the session withheld."""
    laid = _long(6, rungs=True)
    climbing = replace(
        laid, passes=tuple(replace(one, tempo=one.tempo - one.index) for one in laid.passes)
    )
    found = read_take(judged(climbing, offset_ms=player(1, 8.0))).staying

    assert found.session.spread.why == "no tempo was played twice"
    assert found.rung.spread.value is not None


def test_a_few_strokes_have_no_trend() -> None:
    """One short pass: withheld, with the count of blocks that a trend needs."""
    found = read_take(judged(_long(1))).staying.rung.spread

    assert found.value is None
    assert found.why == "needs 6 blocks, has 2"
