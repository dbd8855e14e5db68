"""Real USB MIDI: plugged in, pulled, put back at once or slowly, two of one model, raw bytes."""

from __future__ import annotations

import subprocess
import time
from typing import TYPE_CHECKING

import pytest
from listening import listen, listen_until, notes
from terminals import Terminal, finished, strikes_on_disk
from usb_kit import UsbKit

from trainer.errors import BadInput
from trainer.midi import ports
from trainer.midi.click import ClickOut, ClickSound

if TYPE_CHECKING:
    from pathlib import Path


pytestmark = [pytest.mark.alsa, pytest.mark.usefixtures("usb")]

Sources = "Callable[..., MidiSource]"
SNARE, RIM, KICK = 38, 40, 36


def stroke(note: int) -> bytes:
    """Return the bytes of one stroke."""
    return bytes((0x99, note, 90))


def test_strokes_come_over_usb(opened: Sources) -> None:
    """The kit is found by a part of its name, and what it sends arrives."""
    with UsbKit(0, "Road Kit") as kit:
        source = opened("road")
        for note in (SNARE, RIM, KICK):
            kit.send(stroke(note))
        assert notes(listen(source, 0.3)) == [SNARE, RIM, KICK]


def test_running_status_and_what_lies_between(opened: Sources) -> None:
    """Bytes as a cable carries them: status left out, a real-time byte and a dump in the middle."""
    with UsbKit(0, "Road Kit") as kit:
        source = opened("road")
        kit.send(bytes((0x99, SNARE, 90, RIM, 80, SNARE, 0xFE, 70, KICK, 0)))
        kit.send(bytes((0xF0, 0x41, *range(100), 0xF7)))
        kit.send(bytes((0x99, KICK, 60, KICK, 61)))
        assert notes(listen(source, 0.5)) == [SNARE, RIM, SNARE, KICK, KICK]
        assert source.others[0xF0] == 1
        assert source.others[0x90] == 1  # velocity 0 is a release


def test_a_plug_pulled_and_put_back_at_once(opened: Sources) -> None:
    """However quick: noticed each time, the kit is back, and it is heard again."""
    with UsbKit(0, "Road Kit") as kit:
        source = opened("road")
        for note in (36, 37, 38, 39, 40):
            kit.unplug()
            kit.plug()
            listen_until(source, lost=True, seconds=3.0)
            listen_until(source, lost=False)
            kit.send(stroke(note))
            assert notes(listen(source, 0.3)) == [note]


def test_a_plug_pulled_and_put_back_slowly(opened: Sources) -> None:
    """The usual way: gone, and back some time later."""
    with UsbKit(0, "Road Kit") as kit:
        source = opened("road")
        kit.unplug()
        listen_until(source, lost=True)
        listen(source, 1.0)
        kit.plug()
        listen_until(source, lost=False)
        kit.send(stroke(SNARE))
        assert notes(listen(source, 0.3)) == [SNARE]


def test_two_kits_of_one_model(opened: Sources) -> None:
    """Cards change their numbers; the socket says which kit is which."""
    with UsbKit(0, "Road Kit") as one, UsbKit(1, "Road Kit") as two:
        source = opened("Road Kit:Road Kit MIDI 1 #1")
        one.send(stroke(SNARE))
        two.send(stroke(RIM))
        assert notes(listen(source, 0.3)) == [SNARE]
        one.unplug()
        listen_until(source, lost=True)
        two.unplug()
        time.sleep(0.2)
        two.plug()  # now it may have the number that the first one had
        two.send(stroke(RIM))
        assert notes(listen(source, 1.5)) == []
        one.plug()
        listen_until(source, lost=False)
        one.send(stroke(SNARE))
        two.send(stroke(RIM))
        assert notes(listen(source, 0.3)) == [SNARE]


def test_a_kit_that_another_program_holds(opened: Sources) -> None:
    """A program that keeps the raw device for itself: the words say to close it there."""
    with UsbKit(0, "Road Kit") as kit:
        holder = subprocess.Popen(["amidi", "-p", kit.raw(), "-d"], stdout=subprocess.DEVNULL)
        time.sleep(0.5)
        try:
            with pytest.raises(BadInput, match="close the other program that uses it"):
                opened("road")
        finally:
            holder.kill()
            holder.wait()
        source = opened("road")
        kit.send(stroke(SNARE))
        assert notes(listen(source, 0.3)) == [SNARE]


def test_the_click_reaches_the_kit_and_comes_back_with_it() -> None:
    """Clicks arrive at the module byte for byte, also after it was off for a moment."""
    with UsbKit(0, "Road Kit") as kit:
        click = ClickOut("road", ClickSound(note=33, accent_note=34, channel=3))
        click.open(time.perf_counter())
        for again in (False, True):
            if again:
                kit.unplug()
                kit.plug()
                for _ in range(20):
                    click.send("beat", 0.0)
                    time.sleep(0.1)
                assert not click.lost
            got = kit.received(lambda: [click.send(one, 0.0) for one in ("accent", "beat")])
            assert bytes((0x92, 34, 120)) in got
            assert bytes((33, 90)) in got
        click.close()


def test_playing_with_the_cable_pulled_and_put_back(tmp_path: Path) -> None:
    """The whole program: paused, reported, taken up again, and nothing invented in the gap."""
    with UsbKit(0, "Road Kit") as kit:
        asked = ("play", "fives-and-threes", "--plain", "--tempo", "100", "--port", "road")
        one = Terminal(*asked, "--recordings", str(tmp_path))
        try:
            sent = 0
            one.read_to("Count-in", 40.0)
            for quick in (True, False):
                wanted = strikes_on_disk(tmp_path) + 6
                while strikes_on_disk(tmp_path) < wanted:
                    assert sent < 300
                    kit.send(stroke(SNARE))
                    sent += 1
                    one.read(0.1)
                one.said = ""
                kit.unplug()
                if not quick:
                    one.read(1.5)
                kit.plug()
                one.read_to("playing goes on when it is back")
                one.read_to(f"{kit.port} is back")
            one.type("q")
            session = finished(tmp_path)
        finally:
            one.end()
    kinds = [mark.kind for mark in session.marks if mark.kind in ("unplugged", "plugged")]
    assert kinds == ["unplugged", "plugged"] * 2
    assert len(session.strikes) + len(session.idle) == sent


def test_sockets_are_known() -> None:
    """A USB kit's identity is its socket; it changes with the socket and not with the number."""
    with UsbKit(0, "Road Kit"), UsbKit(1, "Road Kit"):
        here = [port for port in ports.inputs() if port.title.startswith("Road Kit")]
        assert len({port.identity for port in here}) == 2
        assert all("/usb" in port.identity for port in here)
