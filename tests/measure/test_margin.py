"""Strokes a second asked for, against strokes a second that stay clean."""

from __future__ import annotations

from fractions import Fraction

import pytest

from trainer.measure.ceiling import (
    ABOVE,
    IN_REACH,
    SAFE,
    Ceiling,
    TempoEstimate,
    fastest_hand_step,
    margin,
    needed_rate,
)
from trainer.pattern.model import Bar, Limb, Meter, Note, Pattern


def _pattern(step: Fraction, count: int = 8) -> Pattern:
    notes = tuple(Note(step * k, "snare", Limb.RH if k % 2 == 0 else Limb.LH) for k in range(count))
    feet = tuple(Note(Fraction(k, 8), "kick", Limb.RF) for k in range(4))
    return Pattern("p", "p", (Bar(Fraction(0), Meter()),), notes + feet)


def _ceiling(half: float, low: float, high: float, sure: float) -> Ceiling:
    return Ceiling(
        TempoEstimate(half, low, high, False, False),
        TempoEstimate(sure, sure, sure, False, False),
        20,
    )


@pytest.mark.parametrize(
    ("tempo", "value", "rate"),
    [(150, "16", 10.0), (120, "8t", 6.0), (60, "4", 1.0), (90, "32", 12)],
)
def test_strokes_a_second_of_a_note_value(tempo: float, value: str, rate: float) -> None:
    """A tempo and a note value make a rate, by plain arithmetic."""
    assert needed_rate(tempo, value) == pytest.approx(rate)


def test_only_the_hands_make_a_patterns_rate() -> None:
    """Feet, however fast, do not count as hand strokes."""
    assert fastest_hand_step(_pattern(Fraction(1, 4))) == Fraction(1, 4)
    assert fastest_hand_step(_pattern(Fraction(1, 4), count=1)) is None


@pytest.mark.parametrize(("tempo", "standing"), [(100, SAFE), (125, IN_REACH), (140, ABOVE)])
def test_a_goal_is_safe_in_reach_or_above(tempo: float, standing: str) -> None:
    """Sixteenths against a sixteenth pattern with a ceiling of 120 (interval 112 to 130)."""
    found = margin(needed_rate(tempo, "16"), _pattern(Fraction(1, 4)), _ceiling(120, 112, 130, 110))

    assert found is not None
    assert found.standing == standing
    assert found.margin == pytest.approx(120 / tempo - 1)


def test_rates_compare_across_note_values() -> None:
    """Sixteenths at 120 are as fast as eighth triplets at 160: eight strokes a second."""
    found = margin(needed_rate(160, "8t"), _pattern(Fraction(1, 4)), _ceiling(120, 119, 121, 118))

    assert found is not None
    assert found.margin == pytest.approx(0)


@pytest.mark.parametrize("tempo", range(80, 180))
def test_the_words_follow_the_interval_that_is_shown(tempo: int) -> None:
    """Nothing is safe without the reserve at its low end, nor above with a high end over 0."""
    found = margin(needed_rate(tempo, "16"), _pattern(Fraction(1, 4)), _ceiling(120, 112, 130, 110))
    assert found is not None
    low, high = round(100 * found.low), round(100 * found.high)
    expected = SAFE if low >= 10 else IN_REACH if high >= 0 else ABOVE
    assert found.standing == expected
    assert {SAFE: found.margin > 0, ABOVE: found.margin < 0}.get(found.standing, True)
