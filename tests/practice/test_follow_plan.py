"""The plan of a session that follows an outside clock."""

from fractions import Fraction

import pytest

from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.library import load_pattern
from trainer.practice.events import Command, PassStarted
from trainer.practice.live import LiveSession
from trainer.practice.plan import AHEAD_S, FollowPlan

BAR = 4.0


class Song:
    """An outside song at a steady tempo; None stands for not yet known."""

    def __init__(self, tempo=120.0, began_s=3.0):
        self.tempo, self.began_s = tempo, began_s

    def beat_at(self, time_s):
        return None if self.tempo is None else (time_s - self.began_s) * self.tempo / 60

    def time_of(self, beat):
        return None if self.tempo is None else self.began_s + beat * 60 / self.tempo


@pytest.fixture
def pattern():
    """A pattern in 4/4."""
    found = load_pattern("climb-odd-numbers")
    assert found.meter.length == 4
    return found


def test_first_pass_begins_on_a_bar_line_with_room_for_the_count_in(pattern):
    """The first beat is a bar line of the outside, at least a count-in and a breath away."""
    song = Song()
    step = FollowPlan(pattern, song, 100.0).next(10.0)
    beat = song.beat_at(step.at_s)
    assert beat % BAR == pytest.approx(0.0)
    assert step.at_s >= 10.0 + AHEAD_S + BAR * 0.5
    assert step.at_s < 10.0 + AHEAD_S + 2 * BAR * 0.5 + 0.001
    assert step.tempo == 120.0


def test_following_passes_stand_on_the_outsides_beats(pattern):
    """Each pass begins where the outside has the beat the one before ends on, at its tempo now."""
    song = Song()
    plan = FollowPlan(pattern, song, 100.0, passes=3)
    first = plan.next(10.0)
    ends_on = song.beat_at(first.at_s) + float(pattern.length)
    song.tempo, song.began_s = 119.0, 2.9
    second = plan.follows(20.0)
    assert second.at_s == pytest.approx(song.time_of(ends_on))
    assert second.tempo == 119.0
    assert plan.follows(30.0) is not None
    assert plan.follows(40.0) is None
    assert plan.next(50.0) is None


def test_tempo_is_reported_in_the_patterns_own_unit(pattern):
    """Where a pattern counts dotted quarters, so does the tempo; it stays within the range."""
    from dataclasses import replace

    dotted = replace(pattern, tempo_unit=Fraction(3, 2))
    assert FollowPlan(dotted, Song(), 100.0).next(0.0).tempo == pytest.approx(80.0)
    assert FollowPlan(pattern, Song(900.0), 100.0).next(0.0).tempo == 400.0


def test_without_a_clock_the_own_tempo_holds(pattern):
    """Before the outside is known a step has the tempo asked for, and no time of its own."""
    step = FollowPlan(pattern, Song(None), 100.0).next(0.0)
    assert (step.tempo, step.at_s) == (100.0, None)


def test_a_session_waits_for_the_outside_and_starts_on_its_bar(pattern):
    """Paused until the outside runs, the session begins its pass on a bar line of the song."""
    song = Song(None)
    session = LiveSession(pattern, GENERAL_MIDI, FollowPlan(pattern, song, 100.0, passes=1))
    session.start(0.0)
    session.command(Command("pause"), 0.0)
    song.tempo = 120.0
    session.command(Command("resume"), 6.0)
    reported = [event for tick in range(1900) for event in session.advance(tick / 200)]
    (started,) = [event for event in reported if isinstance(event, PassStarted)]
    assert song.beat_at(started.start_s) % BAR == pytest.approx(0.0)
    assert started.start_s == pytest.approx(song.time_of(12.0))
