"""A position controller and the stroke it belongs to."""

from __future__ import annotations

from trainer.kit.hits import Strike
from trainer.midi.position import StrikePlace
from trainer.midi.source import Control


def test_a_position_goes_to_the_stroke_that_follows_at_once() -> None:
    """The value becomes 0 (middle) to 1 (edge) of the next stroke, and of that one only."""
    place = StrikePlace()

    told = place.placed(Control(1.000, "control", 16, 127))
    assert told == Control(1.000, "control", 16, 127)
    assert place.placed(Strike(1.001, 38, 90)) == Strike(1.001, 38, 90, 1.0)
    assert place.placed(Strike(1.002, 38, 90)) == Strike(1.002, 38, 90, None)


def test_a_position_that_no_stroke_follows_is_nobodys() -> None:
    """An old value, and other controllers, place nothing."""
    place = StrikePlace()
    place.placed(Control(1.0, "control", 17, 64))
    assert place.placed(Strike(1.006, 38, 90)).position is None
    place.placed(Control(2.0, "control", 4, 64))
    assert place.placed(Strike(2.001, 38, 90)).position is None
