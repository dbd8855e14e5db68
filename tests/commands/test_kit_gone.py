"""The kit goes away in the middle and comes back: the whole program, over real MIDI."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING, Any

import pytest
from cables import can_cut, cut
from conftest import JackServer, Sender, jack_only, midi_api
from patience import LIMIT_S
from terminals import Terminal, finished, strikes_on_disk, wait_for_strikes

from trainer.archive.summary import judge_session
from trainer.practice.course import pass_end

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from trainer.archive.session import Session

pytestmark = pytest.mark.jack

APART_S = 0.15
"""A sixteenth at 100 BPM."""


@pytest.fixture
def playing(tmp_path: Path) -> Iterator[Callable[..., Terminal]]:
    """Practise on a port, said in lines of text."""
    made: list[Terminal] = []

    def make(port: str, *args: str) -> Terminal:
        asked = ("play", "fives-and-threes", "--plain", "--tempo", "100", "--port", port)
        made.append(Terminal(*asked, "--recordings", str(tmp_path), *args))
        made[-1].read_to("Count-in")
        return made[-1]

    yield make
    for one in made:
        one.end()


def play(kit: Any, seconds: float) -> int:
    """Let a sender strike the snare again and again; return how many strokes it began."""
    count = int(seconds / APART_S)
    kit.start([(k * APART_S, (0x99, 38, 1 + k % 127)) for k in range(count)])
    return count


def kinds(session: Session) -> list[str]:
    """Return the marks of a session by kind; a busy machine adds stalls of its own."""
    return [mark.kind for mark in session.marks if mark.kind not in ("silent", "stall")]


def nothing_in_the_gap(session: Session, gone: str = "unplugged", back: str = "plugged") -> None:
    """Check that between unplugging and coming back nothing was heard, asked for or missed."""
    gap = [mark.time_s for mark in session.marks if mark.kind in (gone, back)]
    assert len(gap) == 2
    strokes = [strike.time_s for strike in (*session.strikes, *session.idle)]
    assert not [time_s for time_s in strokes if gap[0] < time_s < gap[1]]
    take = judge_session(session)
    assert not [target for target in take.targets if gap[0] <= target.time_s <= gap[1]]
    cut = [one for one in session.passes if one.begins_s < gap[0]][-1]
    heard = [time_s for time_s in strokes if time_s < gap[0]]
    assert pass_end(session.pattern, cut) <= max(heard) + 0.2


WENT_AND_CAME = ["unplugged", "pause", "plugged", "resume"]


def ended(one: Terminal, kit: Sender, folder: Path) -> Session:
    """Quit while the kit plays on; return the session that was saved."""
    one.type("q")
    assert one.wait() == 0
    kit.kill()
    return finished(folder)


def test_unplugged_and_plugged_in_again(
    sender: Callable[[str], Sender], playing: Callable[[str], Terminal], tmp_path: Path
) -> None:
    """The sender is killed and started again: paused, reported, taken up, and nothing invented."""
    kit = sender("Stage Kit")
    one = playing("stage kit")
    play(kit, 30)
    wait_for_strikes(tmp_path, 6)
    kit.kill()
    one.read_to("Stage Kit:drums is gone; playing continues when it is back")
    one.read_to("Paused: Stage Kit:drums is gone")
    again = sender("Stage Kit")
    one.read_to("Stage Kit:drums is back")
    before = strikes_on_disk(tmp_path)
    play(again, 30)
    wait_for_strikes(tmp_path, before + 6)
    session = ended(one, again, tmp_path)
    assert kinds(session) == WENT_AND_CAME
    nothing_in_the_gap(session)


@pytest.mark.skipif(not can_cut(), reason="no program to cut a connection with")
def test_another_program_cuts_the_connection(
    sender: Callable[[str], Sender], playing: Callable[[str], Terminal], tmp_path: Path
) -> None:
    """A cable pulled in a patch bay while the kit plays on: paused, said, taken up by itself."""
    kit = sender("Stage Kit")
    one = playing("stage kit")
    play(kit, 30)
    wait_for_strikes(tmp_path, 6)
    cut(kit.port)
    one.read_to("Stage Kit:drums was disconnected; playing continues when it is back")
    one.read_to("Stage Kit:drums is back")
    wait_for_strikes(tmp_path, strikes_on_disk(tmp_path) + 6)
    session = ended(one, kit, tmp_path)
    assert kinds(session) == WENT_AND_CAME
    nothing_in_the_gap(session)


def test_a_plug_pulled_and_back_at_once(
    sender: Callable[[str], Sender], playing: Callable[[str], Terminal], tmp_path: Path
) -> None:
    """A kit that is back before anybody looked was still away: reported, and taken up again."""
    kit = sender("Stage Kit")
    one = playing("stage kit")
    kit.start([(k * APART_S, (0x99, 38, 1 + k % 127) if k != 16 else ()) for k in range(200)])
    # The list may have been looked at in the moment between.
    one.read_to("; playing continues when it is back")
    one.read_to("Stage Kit:drums is back")
    wait_for_strikes(tmp_path, strikes_on_disk(tmp_path) + 6)
    session = ended(one, kit, tmp_path)
    assert kinds(session) == WENT_AND_CAME
    nothing_in_the_gap(session)


@jack_only
def test_the_midi_server_is_started_again(
    jack: dict[str, str], playing: Callable[..., Terminal], tmp_path: Path
) -> None:
    """jackd ends under the program and comes back: paused, said, taken up again, the click too."""
    ear, kit = None, None
    with JackServer() as server:
        try:
            kit, ear = Sender("Stage Kit"), Listener("Module")
            one = playing("stage kit", "--out", "Module")
            play(kit, 30)
            wait_for_strikes(tmp_path, 6)
            server.stop()
            one.read_to("Stage Kit:drums is gone; playing continues when it is back")
            kit.kill()
            ear.kill()
            server.start()
            one.read(1.0)
            kit, ear = Sender("Stage Kit"), Listener("Module")
            one.read_to("Stage Kit:drums is back")
            before = strikes_on_disk(tmp_path)
            play(kit, 30)
            wait_for_strikes(tmp_path, before + 6)
            one.type("q")
            assert one.wait() == 0
            assert ear.heard() > 3
        finally:
            for other in (kit, ear):
                if other:
                    other.kill()
    session = finished(tmp_path)
    assert kinds(session) == WENT_AND_CAME
    nothing_in_the_gap(session)


def test_a_kit_that_appears_is_offered(
    sender: Callable[[str], Sender], playing: Callable[..., Terminal]
) -> None:
    """Who plays on the computer keys is told of a kit that is switched on meanwhile."""
    one = playing("keys")
    sender("Stage Kit")
    one.read_to("Stage Kit:drums is connected. To play on it: q, then start again")
    one.type("q")
    assert one.wait() == 0


def test_a_kit_that_is_not_switched_on_yet_is_waited_for(
    sender: Callable[[str], Sender], tmp_path: Path
) -> None:
    """Begun without a kit in a terminal it says so, and plays on the first one that comes."""
    one = Terminal("play", "fives-and-threes", "--recordings", str(tmp_path))
    try:
        one.read_to("No MIDI input is connected. Switch the kit on")
        kit = sender("Stage Kit")
        one.read_to("count-in")
        play(kit, 10)
        wait_for_strikes(tmp_path, 6)
        one.type("q")
        session = finished(tmp_path)
        kit.kill()
    finally:
        one.end()
    assert session.header.source.startswith("Stage Kit")
    assert {stroke.note for stroke in (*session.strikes, *session.idle)} == {38}


class Listener:
    """A sound module: a process with a MIDI input of its own that counts what arrives."""

    def __init__(self, name: str) -> None:
        script = (
            "import rtmidi, select, sys\n"
            f"ear = rtmidi.MidiIn({midi_api()}, name={name!r})\n"
            "ear.open_virtual_port('in')\n"
            "print('ready', flush=True)\n"
            "sys.stdin.readline()\n"
            "print(sum(1 for _ in iter(ear.get_message, None)), flush=True)\n"
        )
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
        self._process = subprocess.Popen([sys.executable, "-c", script], **pipes)
        assert self._process.stdout
        assert self._process.stdout.readline() == "ready\n"

    def heard(self) -> int:
        """Return how many messages arrived."""
        out, _ = self._process.communicate("\n", timeout=LIMIT_S)
        return int(out)

    def kill(self) -> None:
        """End the process."""
        self._process.kill()
        self._process.wait(LIMIT_S)
