"""The cursor between two beats: which step it stands on, and when the next one comes."""

from __future__ import annotations

import pytest
from stage import pattern

from trainer.show.grid import BeatCursor, PatternGrid


def second_beat_of_a_bar_of_sixteenths() -> BeatCursor:
    """Return a cursor on beat 2, which began at 10 s and lasts half a second."""
    written = pattern()
    cursor = BeatCursor()
    cursor.begin(PatternGrid(written).bars[0], written.bars[0], 1, 10.0, 0.5)
    return cursor


@pytest.mark.parametrize(
    ("now", "column", "next_s"),
    [(10.0, 4, 0.125), (10.124, 4, 0.001), (10.126, 5, 0.124), (10.4, 7, None), (99.0, 7, None)],
)
def test_it_moves_step_by_step_and_waits_for_the_next_beat(
    now: float, column: int, next_s: float | None
) -> None:
    """A beat's steps come at their share of it; a late announcement lets it wait on the last."""
    cursor = second_beat_of_a_bar_of_sixteenths()
    assert cursor.column(now) == column
    assert cursor.next_s(now) == pytest.approx(next_s)


def test_a_count_in_stands_on_its_beat() -> None:
    """Counting in, the cursor shows the beat and does not play the steps."""
    cursor = second_beat_of_a_bar_of_sixteenths()
    cursor.stand()
    assert cursor.column(10.4) == 4
    assert cursor.next_s(10.0) is None


def test_before_the_first_beat_there_is_none() -> None:
    """Nothing is marked before the practice loop has said where it stands."""
    assert BeatCursor().column(1.0) is None
