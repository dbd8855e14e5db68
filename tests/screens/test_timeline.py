"""A course on the clock: bars, passes, gaps and cuts."""

from __future__ import annotations

from stage import pattern

from trainer.practice.course import Course, Pass
from trainer.show.take import Timeline

TWO_BARS = pattern(bars=2)


def timeline() -> Timeline:
    """Return two passes of two bars of 4 s each at 60 BPM, 3 s apart, the second cut at 14 s."""
    return Timeline(Course(TWO_BARS, (Pass(0, 60.0, 1.0), Pass(1, 60.0, 12.0, end_s=14.0))))


def test_bars_stand_in_the_order_they_were_played() -> None:
    """A cut pass ends where it was cut, and bars after the cut are not there."""
    line = timeline()
    assert [(bar.row, bar.bar, bar.start_s, bar.end_s) for bar in line.bars] == [
        (0, 0, 1.0, 5.0),
        (0, 1, 5.0, 9.0),
        (1, 0, 12.0, 14.0),
    ]


def test_a_moment_has_its_bar_and_beat() -> None:
    """Half a second into the second bar is beat 4.5 of the pattern."""
    line = timeline()
    assert line.at(5.5).bar == 1
    assert line.beat(5.5) == 4.5


def test_time_jumps_over_what_was_not_played() -> None:
    """Between two passes there is nothing to see."""
    assert timeline().over_gap(9.1) == 12.0
    assert timeline().over_gap(8.9) == 8.9


def test_stepping_back_goes_to_the_bar_before() -> None:
    """Inside a bar one step back is its own start, at its start the bar before."""
    line = timeline()
    assert line.step_bar(7.0, -1) == 5.0
    assert line.step_bar(5.0, -1) == 1.0
    assert line.step_bar(1.0, -1) == 1.0
    assert line.step_bar(12.0, 1) == 14.0


def test_a_pass_begins_with_its_first_bar() -> None:
    """Beyond the last pass is the end."""
    line = timeline()
    assert line.start_of(1) == 12.0
    assert line.start_of(9) == 14.0
