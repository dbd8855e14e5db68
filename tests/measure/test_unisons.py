"""Unisons: which limbs, which first, how far apart, and what is heard as two strokes."""

from __future__ import annotations

import pytest
from handmade import course, judged, line, pattern

from trainer.measure.reading import read_take


def _together(passes: int = 4):
    """Right hand and right foot on every quarter, left foot on every second one."""
    return course(
        pattern(
            line("ride " * 4, value="4", limbs="R"),
            line("kick " * 4, value="4", limbs="K"),
            line("- pedal - pedal", value="4", limbs="H"),
        ),
        passes,
    )


def _lag(**late: float):
    return lambda target: late.get(target.note.voice, 0.0)


def test_every_pair_of_limbs_is_a_unison_of_its_kind() -> None:
    """Four beats of hand and foot, two of them with the other foot as well."""
    found = read_take(judged(_together())).unisons

    assert {name: gap.mean.count for name, gap in found.by_limbs.items()} == {
        "RH+RF": 16,
        "RH+LF": 8,
        "RF+LF": 8,
    }
    assert found.by_kind["hand+foot"].mean.count == 24
    assert found.by_kind["foot+foot"].mean.count == 8
    assert "hand+hand" not in found.by_kind


def test_minus_means_that_the_hand_lands_first() -> None:
    """A kick 8 ms late under the hand is a gap of -8 ms."""
    found = read_take(judged(_together(), offset_ms=_lag(kick=8.0))).unisons

    assert found.by_limbs["RH+RF"].mean.value == pytest.approx(-8.0)
    assert found.by_limbs["RH+RF"].size.value == pytest.approx(8.0)
    # Right foot minus left foot: the right one is last.
    assert found.by_limbs["RF+LF"].mean.value == pytest.approx(8.0)


def test_both_hands_are_reported_right_before_left() -> None:
    """Two hands at once: minus means the right one first, whichever voice stands higher."""
    for right, left in (("snare", "floor"), ("floor", "snare")):
        laid = course(pattern(line(f"{right} " * 8, limbs="R"), line(f"{left} " * 8, limbs="L")))
        found = read_take(
            judged(laid, offset_ms=lambda t: 5.0 if t.note.limb == "LH" else 0.0)
        ).unisons

        assert found.by_kind["hand+hand"].mean.value == pytest.approx(-5.0)
        assert set(found.by_limbs) == {"RH+LH"}


@pytest.mark.parametrize(("gap", "share"), [(19.9, 0.0), (20.0, 100.0)])
def test_from_20_ms_on_a_gap_counts_as_a_flam(gap: float, share: float) -> None:
    """The edge belongs to the flam."""
    found = read_take(judged(_together(), offset_ms=_lag(kick=gap))).unisons

    assert found.by_limbs["RH+RF"].flams.value == share


def test_a_missed_half_is_no_unison() -> None:
    """Both strokes must have landed."""
    made = judged(_together(), offset_ms=lambda t: None if t.note.voice == "kick" else 0.0)

    assert set(read_take(made).unisons.by_limbs) == {"RH+LF"}


def test_the_same_beat_of_another_pass_is_no_unison() -> None:
    """A line without company has no unisons however often it is repeated."""
    laid = course(pattern(line("snare " * 16)), 5)

    assert read_take(judged(laid)).unisons.by_kind == {}
