"""Sending a MIDI clock: which message when, and its way to another program."""

from fractions import Fraction

import pytest

from trainer.midi import midi_message
from trainer.midi.midi_clock import NEVER, ClockFollower, ClockOut, PulseTrain
from trainer.pattern.model import Bar, Meter, Pattern, TempoChange
from trainer.practice.events import PassStarted


def sent(train, until_s, step_s=0.0001):
    """All (time, message) up to a second, looked for every tenth of a millisecond."""
    return [
        (tick * step_s, message)
        for tick in range(round(until_s / step_s))
        for message in train.due(tick * step_s)
    ]


def test_a_pass_has_its_clocks_and_starts_on_its_first_beat():
    """A beat of clocks comes before the start, which falls on the pass's first beat."""
    train = PulseTrain()
    train.lay(2.0, 0.5, 1.0)
    found = sent(train, 4.0)
    start = next(at for at, message in found if message == midi_message.START)
    assert start == pytest.approx(2.0, abs=0.0002)
    assert sum(message == midi_message.CLOCK and at < start for at, message in found) == 24
    assert sum(message == midi_message.CLOCK and at >= start for at, message in found) == 96


def test_passes_follow_without_another_start_or_a_missing_clock():
    """Where a pass follows, at another tempo, clocks go on; each quarter has 24 of them."""
    train = PulseTrain()
    train.lay(1.0, 0.5, 0.9)
    train.lay(3.0, 0.4, 1.5)
    found = sent(train, 5.0)
    assert sum(message == midi_message.START for _, message in found) == 1
    clocks = [at for at, message in found if message == midi_message.CLOCK]
    assert sum(1.0 - 0.0002 <= at < 3.0 - 0.0002 for at in clocks) == 4 * 24
    assert sum(3.0 - 0.0002 <= at < 5.0 - 0.0002 for at in clocks) == 5 * 24


def test_stop_is_sent_once_and_silences():
    """Stopping tells a rolling outside once; nothing is due after it."""
    train = PulseTrain()
    assert train.stop() == []
    train.lay(0.5, 0.5, 0.0)
    sent(train, 1.0)
    assert train.stop() == [midi_message.STOP]
    assert train.stop() == []
    assert train.next_s == NEVER
    assert train.due(100.0) == []


def test_what_is_sent_is_what_is_followed():
    """Our own follower reads tempo and place from our own clock."""
    train, follower = PulseTrain(), ClockFollower()
    train.lay(2.0, 60 / 97, 0.5)
    for at, message in sent(train, 12.0):
        follower.hear((message,), at)
    assert follower.tempo == pytest.approx(97.0, rel=0.001)
    assert follower.time_of(0) == pytest.approx(2.0, abs=0.001)
    assert follower.time_of(8) == pytest.approx(2.0 + 8 * 60 / 97, abs=0.001)


def test_the_clock_follows_the_tempo_that_is_written():
    """Two quarters at 60, then two at 120, within a pass and again: 24 clocks in each."""
    bars = (Bar(Fraction(0), Meter(4, 4)),)
    changes = (TempoChange(Fraction(2), 120.0),)
    pattern = Pattern("p", "P", bars, (), tempo=60.0, tempo_changes=changes)
    out = ClockOut(pattern, "anything")
    out.hear(PassStarted(0, 0, 60.0, 1.0, 0, 0), 0.0)
    found = sent(out.train, 3.5)
    out.hear(PassStarted(1, 0, 60.0, 4.0, 0, 0), 3.5)
    found += [(at + 3.5, message) for at, message in sent(Late(out.train, 3.5), 3.5)]
    clocks = [at for at, message in found if message == midi_message.CLOCK]

    for start, end in ((1, 2), (2, 3), (3, 3.5), (3.5, 4), (4, 5), (5, 6), (6, 6.5)):
        assert sum(start - 0.0003 <= at < end - 0.0003 for at in clocks) == 24
    assert sum(message == midi_message.START for _, message in found) == 1


class Late:
    """A train whose seconds are counted from a later moment."""

    def __init__(self, train, from_s):
        self.train, self.from_s = train, from_s

    def due(self, now_s):
        """Return what is due so long after that moment."""
        return self.train.due(self.from_s + now_s)
