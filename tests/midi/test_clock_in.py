"""Following an outside MIDI clock, from written messages."""

import random

import pytest

from trainer.midi import midi_message
from trainer.midi.midi_clock import PULSES_PER_QUARTER, ClockFollower


def pulses(follower, tempo, count, first_s=10.0, jitter=0.0, seed=1, lost=()):
    """Send clocks at a tempo, each up to `jitter` seconds off; return when the next is due."""
    rng = random.Random(seed)
    period = 60 / tempo / PULSES_PER_QUARTER
    for i in range(count):
        if i not in lost:
            follower.hear(
                (midi_message.CLOCK,), first_s + i * period + rng.uniform(-jitter, jitter)
            )
    return first_s + count * period


@pytest.mark.parametrize("tempo", [20.0, 61.7, 120.0, 400.0])
def test_tempo_comes_from_many_clocks(tempo):
    """With clocks up to 1 ms off, the tempo is right within 1 per cent of that of single ones."""
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.9)
    pulses(follower, tempo, 200, jitter=0.001)
    assert follower.tempo == pytest.approx(tempo, rel=0.002)


def test_first_clock_after_start_is_the_first_beat():
    """Beat 0 falls on the first clock after start, and later beats follow it."""
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.99)
    pulses(follower, 120.0, 96)
    assert follower.time_of(0) == pytest.approx(10.0)
    assert follower.time_of(8) == pytest.approx(14.0)
    assert follower.beat_at(11.0) == pytest.approx(2.0)


def test_clocks_before_start_give_the_tempo_but_no_position():
    """A clock that ran before start is known by tempo at once; the song begins at start."""
    follower = ClockFollower()
    then = pulses(follower, 100.0, 80)
    assert not follower.running(then)
    follower.hear((midi_message.START,), then - 0.01)
    pulses(follower, 100.0, 1, then)
    assert follower.running(then)
    assert follower.time_of(0) == pytest.approx(then, abs=0.001)


def test_continue_goes_on_where_it_stopped():
    """Stop and continue lose no beat: the next clock is the one that was due."""
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.9)
    pulses(follower, 120.0, 48)
    follower.hear((midi_message.STOP,), 11.0)
    assert not follower.running(11.0)
    follower.hear((midi_message.SONG_POSITION, 8, 0), 12.0)
    follower.hear((midi_message.CONTINUE,), 12.0)
    pulses(follower, 120.0, 48, 20.0)
    assert follower.time_of(2) == pytest.approx(20.0, abs=0.002)


def test_song_position_counts_sixteenths():
    """A song position of 16 is four quarters: the next clock stands there."""
    follower = ClockFollower()
    follower.hear((midi_message.SONG_POSITION, 16, 0), 9.8)
    follower.hear((midi_message.CONTINUE,), 9.9)
    pulses(follower, 120.0, 48)
    assert follower.time_of(4) == pytest.approx(10.0)
    follower = ClockFollower()
    follower.hear((midi_message.SONG_POSITION, 0, 1), 9.8)
    follower.hear((midi_message.CONTINUE,), 9.9)
    pulses(follower, 120.0, 48)
    assert follower.time_of(32) == pytest.approx(10.0)


def test_lost_clocks_do_not_shift_the_song():
    """A few clocks that never arrive leave later beats where they are."""
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.9)
    pulses(follower, 120.0, 192, lost={60, 61, 100}, jitter=0.001)
    assert follower.time_of(8) == pytest.approx(14.0, abs=0.002)


def test_a_bad_connection_is_no_change_of_tempo():
    """With one clock in five lost and all up to 2 ms off, tempo and place stay right throughout."""
    rng = random.Random(5)
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.9)
    for i in range(2000):
        at = 10.0 + i * 60 / 150 / PULSES_PER_QUARTER
        if i < 8 or rng.random() > 0.2:
            follower.hear((midi_message.CLOCK,), at + rng.uniform(-0.002, 0.002))
        if i > 96:
            assert follower.running(at)
            assert follower.tempo == pytest.approx(150.0, rel=0.01)
            assert follower.beat_at(at) == pytest.approx(i / PULSES_PER_QUARTER, abs=0.02)


def test_active_sensing_and_notes_mean_nothing():
    """Messages that are not about the clock change nothing."""
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.9)
    pulses(follower, 120.0, 96)
    before = follower.time_of(3)
    for message in ((midi_message.ACTIVE_SENSING,), (0x99, 38, 100), (0xF0,)):
        follower.hear(message, 12.0)
    assert follower.time_of(3) == before


def test_a_new_tempo_is_followed_within_a_beat():
    """After a change of tempo the tempo reported is the new one within little more than a beat."""
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.9)
    then = pulses(follower, 120.0, 200, jitter=0.0005)
    then = pulses(follower, 90.0, 30, then, jitter=0.0005)
    assert follower.tempo == pytest.approx(90.0, rel=0.04)
    assert follower.beat_at(then) == pytest.approx(230 / PULSES_PER_QUARTER, abs=0.05)


@pytest.mark.parametrize("tempo", [60.0, 240.0])
def test_half_and_double_tempo_are_no_lost_clocks(tempo):
    """A tempo that halves or doubles is followed, and the beats are counted right."""
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.9)
    then = pulses(follower, 120.0, 192)
    then = pulses(follower, tempo, 96, then)
    assert follower.tempo == pytest.approx(tempo, rel=0.01)
    assert follower.beat_at(then) == pytest.approx(12.0, abs=0.1)


def test_silence_ends_the_running():
    """An outside that sends no clock for a second runs no more."""
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.9)
    then = pulses(follower, 120.0, 96)
    assert follower.running(then)
    assert not follower.running(then + 1.1)


def test_too_few_clocks_say_nothing():
    """Before a beat of clocks there is neither tempo nor position."""
    follower = ClockFollower()
    follower.hear((midi_message.START,), 9.9)
    pulses(follower, 120.0, 23)
    assert follower.tempo is None
    assert follower.beat_at(10.0) is None
    assert follower.time_of(1) is None
    assert not follower.running(10.1)
