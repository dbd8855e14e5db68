"""Evenness: intervals of the hands, lope, and what happens where the note value changes."""

from __future__ import annotations

from fractions import Fraction

import pytest
from handmade import course, judged, line, pattern

from trainer.measure.reading import read_take


def test_a_late_left_hand_lopes_by_twice_its_lateness() -> None:
    """Left 6 ms late throughout: right to left is 6 longer, left to right 6 shorter, so 12."""
    laid = course(pattern(line("snare " * 16)), 2)
    even = read_take(judged(laid, offset_ms=lambda t: 6.0 if t.note.limb == "LH" else 0.0)).evenness

    assert even.lope.value == pytest.approx(12.0)


def test_a_late_right_hand_lopes_the_other_way() -> None:
    """The sign tells which hand is late between two of the other."""
    laid = course(pattern(line("snare " * 16)), 2)
    even = read_take(judged(laid, offset_ms=lambda t: 6.0 if t.note.limb == "RH" else 0.0)).evenness

    assert even.lope.value == pytest.approx(-12.0)


def test_doubles_do_not_lope() -> None:
    """A lope is reported from alternate strokes only; R R L L has none."""
    laid = course(pattern(line("snare " * 16, limbs="RRLL")), 2)

    assert (
        read_take(judged(laid, offset_ms=lambda t: float(t.index % 3))).evenness.lope.value is None
    )


def test_a_constant_lag_leaves_intervals_alone() -> None:
    """Late by 40 ms throughout is perfectly even."""
    laid = course(pattern(line("snare " * 16)), 2)
    even = read_take(judged(laid, offset_ms=lambda t: 40.0)).evenness

    assert even.spread.value == pytest.approx(0.0, abs=1e-9)


def test_a_missed_stroke_breaks_the_chain() -> None:
    """Of 16 even strokes one missed in the middle leaves 13 of 15 intervals."""
    laid = course(pattern(line("snare " * 16)))
    even = read_take(judged(laid, offset_ms=lambda t: None if t.index == 8 else 0.0)).evenness

    assert even.spread.count == 13


def test_feet_and_the_second_hand_of_a_unison_are_left_out() -> None:
    """Feet under the hands, and both hands at once, add no intervals."""
    both = [*line("snare " * 8, limbs="R"), *line("tom1 " * 8, limbs="L")]
    laid = course(pattern(both, line("kick " * 2, value="4", limbs="K")))

    assert read_take(judged(laid)).evenness.spread.count == 7


@pytest.mark.parametrize(("per_stroke", "way"), [(-3.0, -1), (3.0, 1)])
def test_rushing_into_a_new_value_is_minus(per_stroke: float, way: int) -> None:
    """Sixteenths played 3 ms short (long) each after eighths: four strokes average 7.5 ms off."""
    eighths = line("snare " * 8, value="8")
    sixteenths = line("snare " * 16, start=Fraction(4))
    laid = course(pattern(eighths, sixteenths), 3)

    def play(target) -> float:
        after = (float(target.note.beat) - 4) * 4
        return per_stroke * max(0.0, after)

    changes = read_take(judged(laid, offset_ms=play)).evenness.changes

    # Strokes 1 to 4 after the first one of the new value are 1 to 4 times 3 ms off: 7.5 on average.
    assert changes["8 to 16"].value == pytest.approx(way * 7.5)
    assert changes["8 to 16"].count == 3
    assert "16 to 8" not in changes


def test_intervals_are_reported_relative_to_their_note_value() -> None:
    """Late and on time in turn: the same spread is twice the share of half the interval."""
    laid = course(pattern(line("snare " * 8, value="8"), line("snare " * 16, start=Fraction(4))), 2)
    even = read_take(judged(laid, offset_ms=lambda t: 6.0 * (t.note_index % 2))).evenness

    eighths, sixteenths = even.by_value["8"], even.by_value["16"]
    assert eighths.spread.value / 3.0 == pytest.approx(eighths.relative.value, rel=1e-6)
    assert sixteenths.spread.value / 1.5 == pytest.approx(sixteenths.relative.value, rel=1e-6)
