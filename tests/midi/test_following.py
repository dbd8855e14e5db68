"""Following a MIDI clock that another process sends over JACK."""

import pickle
import statistics
import time

import pytest
from patience import until

from trainer.midi import midi_message
from trainer.midi.hit_source import HitSource
from trainer.midi.keyboard import KeySource
from trainer.midi.midi_clock import FollowingSource
from trainer.practice.events import Command


@pytest.mark.jack
def test_outside_clock_starts_and_stops_the_playing(sender):
    """Start resumes once the tempo is known, stop pauses; the tempo is mostly the sender's."""
    outside = sender("Sequencer")
    source = FollowingSource(KeySource(), "sequencer")
    zero = time.perf_counter()
    source.open(zero)
    period = 60 / 130 / 24
    rows = [(0.02 + 0.001 * i, (midi_message.START,)) for i in range(3)]
    rows += [(0.1 + i * period, (midi_message.CLOCK,)) for i in range(144)]
    rows += [(0.1 + (144 + i) * period, (midi_message.STOP,)) for i in range(3)]
    outside.start(rows)
    wishes, tempos = [], []

    def listen():
        source.poll(time.perf_counter() - zero)
        wishes.extend(wish.name for wish in source.wishes())
        if source.follower.tempo:
            tempos.append(source.follower.tempo)
        time.sleep(0.001)

    until(lambda: len(wishes) >= 3, lambda: f"a third wish after {wishes}", listen)
    sent = outside.sent()
    source.close()
    assert wishes == ["pause", "resume", "pause"]
    beats = statistics.linear_regression(range(144), sent[3:147])
    assert statistics.median(tempos) == pytest.approx(60 / 24 / beats.slope, rel=0.02)


def test_hits_come_from_the_source_inside():
    """Keys pressed go through to the source and come back as its strikes."""
    source = FollowingSource(KeySource(), "any")
    assert source.press("g", 1.0)
    assert [made.time_s for made in source.poll(1.0)] == [1.0]
    assert source.name == "keys"
    assert not source.lost


def test_all_that_the_source_inside_may_say_is_passed_on():
    """Nothing that a source may override is left to the default by the one before it."""
    said = {name for name in vars(HitSource) if not name.startswith("_")}
    assert said <= vars(FollowingSource).keys()


def test_a_kit_that_arrives_is_offered_and_a_wish_is_passed_on():
    """News and wishes of the source inside come out, once, before those of the clock."""

    class Talking(KeySource):
        def news(self):
            return ["Kit is connected"]

        def wishes(self):
            return [Command("restart")]

    source = FollowingSource(Talking(), "any")
    source.poll(0.0)
    assert source.news() == ["Kit is connected"]
    assert [wish.name for wish in source.wishes()] == ["restart", "pause"]


def test_follower_is_shared_across_a_process_border():
    """Pickled together, source and plan still share one follower."""
    source = FollowingSource(KeySource(), "any")
    sent, follower = pickle.loads(pickle.dumps((source, source.follower)))
    assert sent.follower is follower
