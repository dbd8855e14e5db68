"""Strokes over a real JACK connection, sent from another process.

A JACK server without real-time rights drops a whole period now and then when the machine is busy,
whoever listens; so a few notes in a hundred may be missing here, and single ones are sent thrice.
"""

import time

import pytest
from conftest import jack_only
from patience import until

from trainer.errors import BadInput
from trainer.kit.hits import Strike
from trainer.midi import port_names, ports
from trainer.midi.hit_source import Control
from trainer.midi.kit_input import MidiSource

pytestmark = pytest.mark.jack

PERIOD_S = 64 / 48000
"""The JACK server's."""


SETTLE_S = 0.2
"""How long it stays quiet after the last message, for nothing more to be on its way."""

TURN_S = 0.0005


class Ear:
    """Polls a source as the program does; `turns_s` is how long each turn took."""

    def __init__(self, source):
        self.source, self.made, self.turns_s = source, [], []

    def turn(self):
        """Sleep and poll once; return whether anything came."""
        before = time.perf_counter()
        time.sleep(TURN_S)
        found = self.source.poll(0.0)
        self.turns_s.append(time.perf_counter() - before)
        self.made += found
        return bool(found)

    def to_the_end_of(self, kit):
        """Listen until all that was started is sent and nothing more comes; return what came."""
        until(kit.is_done, "the end of what is sent", self.turn)
        quiet_s = 0.0
        while quiet_s < SETTLE_S:
            quiet_s = 0.0 if self.turn() else quiet_s + TURN_S
        return self.made


def listen(source, kit):
    """Return what comes from a source while a kit sends, and soon after."""
    return Ear(source).to_the_end_of(kit)


@pytest.fixture
def opened():
    """Open sources by name; close them with the test."""
    found = []

    def make(name):
        source = MidiSource(name)
        source.open(time.perf_counter())
        found.append(source)
        return source

    yield make
    for one in found:
        one.close()


def test_strokes_arrive_in_order_with_their_velocity(sender, opened):
    """What another program plays comes out as strikes, the same notes in the same order."""
    kit = sender("Kit A")
    source = opened("kit a")
    rows = [(0.05 + 0.02 * i, (0x99, 36 + i % 8, 1 + i)) for i in range(40)]
    kit.start(rows)
    made = [(hit.note, hit.velocity) for hit in listen(source, kit)]
    kit.sent()
    assert len(made) >= 36
    assert made == [(data[1], data[2]) for _, data in rows if (data[1], data[2]) in made]


@pytest.mark.alone
def test_stamps_follow_the_sender(sender, opened):
    """The spacing of strikes is the sender's, within two periods of the JACK server, typically.

    A machine that wakes this process late in the same run may add as much to a time.
    """
    kit = sender("Kit B")
    source = opened("Kit B:drums")
    zero = source._plug.zero_s
    kit.start([(0.05 + 0.03 * i, (0x99, 38, 1 + i)) for i in range(60)])
    ear = Ear(source)
    made = ear.to_the_end_of(kit)
    sent = kit.sent()
    assert len(made) >= 54
    errors = sorted(hit.time_s + zero - sent[hit.velocity - 1] for hit in made)
    middle = errors[len(errors) // 2]
    held_up_s = max(0.0, quartile(ear.turns_s) - 2 * TURN_S)
    assert errors[0] > -PERIOD_S
    assert quartile([abs(error - middle) for error in errors]) < 2 * PERIOD_S + held_up_s


def quartile(values):
    """Return what three values in four do not exceed."""
    return sorted(values)[len(values) * 3 // 4]


def test_releases_are_no_strokes_and_controls_are_kept(sender, opened):
    """Velocity 0 and other messages are counted; pedal, position and choke become controls."""
    kit = sender("Kit C")
    source = opened("Kit C")
    data = [(0x99, 38, 90), (0x99, 38, 0), (0xFE,), (0xB9, 4, 64), (0xB9, 17, 20), (0xA9, 49, 127)]
    kit.start([(0.05 + i * 0.01, row) for i, row in enumerate(data * 3)])
    made = listen(source, kit)
    kit.sent()
    strikes = {(one.note, one.velocity) for one in made if isinstance(one, Strike)}
    controls = {(c.kind, c.number, c.value) for c in made if isinstance(c, Control)}
    assert strikes == {(38, 90)}
    assert controls == {("control", 4, 64), ("control", 17, 20), ("choke", 49, 127)}
    assert set(source.others) == {0x90, 0xFE}


@jack_only
def test_a_steady_player_hides_no_step(sender, opened):
    """On JACK stamps are trusted to the server's period, however evenly it is played."""
    kit = sender("Kit H")
    source = opened("Kit H")
    kit.start([(0.05 + 0.02 * i, (0x99, 38, 90)) for i in range(20)])
    listen(source, kit)
    source.close()
    assert source.resolution_ms == pytest.approx(1000 * PERIOD_S, abs=0.001)


def test_own_ports_are_not_offered(sender, opened):
    """The program's own clients never stand in the list of kits."""
    sender("Kit D")
    opened("Kit D")
    assert [port.label for port in port_names.kits(ports.inputs())] == ["Kit D:drums"]


def test_absent_port_names_those_that_are_there(sender):
    """A name that fits nothing is bad input that lists what is connected."""
    sender("Kit E")
    with pytest.raises(BadInput, match="Kit E:drums"):
        MidiSource("nothing like it").open(0.0)


def test_two_fits_are_bad_input(sender):
    """A part of a name that two kits share is bad input, and both are named."""
    sender("Kit F1")
    sender("Kit F2")
    with pytest.raises(BadInput, match=r"2 ports fit.*Kit F1.*Kit F2"):
        MidiSource("kit f").open(0.0)


def test_kit_that_comes_back_is_heard_again(sender, opened):
    """Unplugging is noticed, and after plugging in strikes go on, on the same clock."""
    kit = sender("Kit G")
    source = opened("Kit G")
    kit.start([(0.02 * i, (0x99, 38, 1)) for i in range(3)])
    first = listen(source, kit)
    ear = Ear(source)
    kit.close()
    until(lambda: source.lost, "the loss of the kit", ear.turn)
    gone_s = time.perf_counter() - source._plug.zero_s
    again = sender("Kit G")
    until(lambda: not source.lost, "the kit that is back", ear.turn)
    back_s = time.perf_counter() - source._plug.zero_s
    again.start([(0.02 * i, (0x99, 40, 2)) for i in range(3)])
    later = listen(source, again)
    assert not ear.made
    assert {hit.note for hit in first} == {38}
    assert {hit.note for hit in later} == {40}
    assert max(hit.time_s for hit in first) < gone_s < back_s < later[0].time_s + PERIOD_S
