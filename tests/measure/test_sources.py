"""Where spread comes from: each model only where it holds, by limb, else with the reason."""

from __future__ import annotations

import random

import pytest
from handmade import course, judged, line, pattern, player

from trainer.measure.reading import read_take

ALL = [(0.0, 1e6)]


def _quarters(passes: int):
    """Right hand on every quarter, kick on every second one, left hand between the beats."""
    return course(
        pattern(
            line("ride " * 16, value="4", limbs="R"),
            line("kick - " * 8, value="4", limbs="K"),
            line("- snare " * 16, value="8", limbs="L"),
        ),
        passes,
    )


def _open_loop(seed: int, timekeeper: float, hand: float):
    """A player who follows no click: the timekeeper's errors add up, the hand's do not."""
    rng, at = random.Random(seed), {"clock": 0.0}

    def play(target) -> float:
        at["clock"] += rng.gauss(0, timekeeper)
        return at["clock"] + rng.gauss(0, hand)

    return play


def test_with_the_click_on_the_silent_model_is_withheld() -> None:
    """Nothing is claimed about silent bars where there were none."""
    found = read_take(judged(_quarters(10), offset_ms=player(1, 8.0))).sources

    assert found.silent["RH"].timekeeper.value is None
    assert found.silent["RH"].timekeeper.why == "the click was never silent"


def test_a_silent_click_shows_timekeeper_from_hand() -> None:
    """An open-loop player of 12 and 6 ms is read as such, and the interval holds the truth."""
    laid = course(pattern(line("ride " * 64, value="4", limbs="R")), 6)
    found = read_take(judged(laid, offset_ms=_open_loop(3, 12.0, 6.0)), silent=ALL).sources.silent[
        "RH"
    ]

    assert found.timekeeper.low <= 12.0 <= found.timekeeper.high
    assert found.hand.low <= 6.0 <= found.hand.high
    assert found.timekeeper.high - found.timekeeper.low < 8
    assert -0.5 <= found.neighbours.value <= 0


def test_only_strokes_inside_the_silent_stretches_count() -> None:
    """Silence in the first pass alone leaves 16 beats, 15 intervals: too few, and it says so."""
    laid = _quarters(6)
    end = laid.passes[1].start_s
    found = read_take(judged(laid, offset_ms=player(1, 8.0)), silent=[(0.0, end)]).sources.silent[
        "RH"
    ]

    assert found.hand.why == "needs 32 even intervals, has 15"


def test_a_player_with_the_click_fits_no_open_loop() -> None:
    """Independent offsets give intervals correlated by -0.5: the edge of the model, or beyond it.

    Whatever comes out is a value with an interval or a reason, never a negative or clipped one.
    """
    for seed in range(20):
        found = read_take(
            judged(_quarters(8), offset_ms=player(seed, 8.0)), silent=ALL
        ).sources.silent["RH"]
        if found.timekeeper.value is None:
            assert found.timekeeper.why.startswith("the model does not fit")
            assert found.hand.value is None
        else:
            assert found.timekeeper.value > 0
            assert found.timekeeper.low >= 0


def test_phase_correction_needs_a_hundred_strokes_on_the_beat() -> None:
    """Six passes of 16 beats are 96: withheld; seven are enough."""
    few = read_take(judged(_quarters(6), offset_ms=player(1, 8.0))).sources.click["RH"]
    enough = read_take(judged(_quarters(7), offset_ms=player(1, 8.0))).sources.click["RH"]

    assert few.correction.why == "needs 100 strokes on successive clicks, has 96"
    assert enough.correction.count == 112
    # Offsets that forget each other are taken back in full at once.
    assert enough.correction.low <= 1.0 <= enough.correction.high


@pytest.mark.parametrize("limb", ["LH", "RF"])
def test_strokes_off_the_click_or_on_every_second_one_are_not_used(limb: str) -> None:
    """The model is of one stroke a click, click after click."""
    found = read_take(judged(_quarters(20), offset_ms=player(1, 8.0))).sources.click[limb]

    assert found.correction.value is None
    assert found.correction.why.endswith("has 0")


def test_a_missed_stroke_ends_a_run() -> None:
    """The longer step over a missed stroke is no interval of the model."""
    laid = course(pattern(line("ride " * 64, value="4", limbs="R")))
    made = judged(laid, offset_ms=lambda t: None if t.index == 40 else player(2, 5.0)(t))
    found = read_take(made, silent=ALL).sources.silent["RH"]

    assert found.neighbours.count == 39 + 22


def test_offsets_without_any_variation_have_no_sources() -> None:
    """A machine's take is withheld with that reason."""
    found = read_take(judged(_quarters(14)), silent=[(0.0, 30.0)]).sources

    assert found.silent["RH"].hand.why == "the intervals do not vary"
    assert found.click["RH"].correction.why == "the offsets do not vary"
