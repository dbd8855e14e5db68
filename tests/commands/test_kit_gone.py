"""The kit goes away in the middle and comes back: the whole program, over real MIDI."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from conftest import JackServer, Sender
from terminals import Terminal, finished, strikes_on_disk, wait_for_strikes

from trainer.archive.summary import judged
from trainer.practice.course import pass_end

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from trainer.archive.session import Session

pytestmark = pytest.mark.jack

APART_S = 0.15
"""A sixteenth at 100 BPM."""


@pytest.fixture
def playing(tmp_path: Path) -> Iterator[Callable[[str], Terminal]]:
    """Practise on a port, told in lines of text."""
    made: list[Terminal] = []

    def make(port: str) -> Terminal:
        asked = ("play", "singles-three-drums", "--plain", "--tempo", "100", "--port", port)
        made.append(Terminal(*asked, "--recordings", str(tmp_path)))
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
    """Return the marks of a session by kind."""
    return [mark.kind for mark in session.marks if mark.kind != "silent"]


def nothing_in_the_gap(session: Session, gone: str = "unplugged", back: str = "plugged") -> None:
    """Check that between unplugging and coming back nothing was heard, asked for or missed."""
    gap = [mark.time_s for mark in session.marks if mark.kind in (gone, back)]
    assert len(gap) == 2
    strokes = [strike.time_s for strike in (*session.strikes, *session.idle)]
    assert not [time_s for time_s in strokes if gap[0] < time_s < gap[1]]
    take = judged(session)
    assert not [target for target in take.targets if gap[0] <= target.time_s <= gap[1]]
    cut = [one for one in session.passes if one.start_s < gap[0]][-1]
    heard = [time_s for time_s in strokes if time_s < gap[0]]
    assert pass_end(session.pattern, cut) <= max(heard) + 0.2


def test_unplugged_and_plugged_in_again(
    sender: Callable[[str], Sender], playing: Callable[[str], Terminal], tmp_path: Path
) -> None:
    """The sender is killed and started again: paused, told, taken up by itself, nothing invented."""
    kit = sender("Stage Kit")
    one = playing("stage kit")
    play(kit, 30)
    wait_for_strikes(tmp_path, 6)
    kit.kill()
    one.read_to("Stage Kit:drums is gone; playing goes on when it is back")
    one.read_to("Paused: Stage Kit:drums is gone")
    again = sender("Stage Kit")
    one.read_to("Stage Kit:drums is back")
    before = strikes_on_disk(tmp_path)
    play(again, 30)
    wait_for_strikes(tmp_path, before + 6)
    one.type("q")
    assert one.wait(10) == 0
    session = finished(tmp_path)

    assert kinds(session) == ["unplugged", "pause", "plugged", "resume"]
    nothing_in_the_gap(session)


def test_the_midi_server_is_started_again(tmp_path: Path) -> None:
    """jackd ends under the program and comes back: paused, told, and taken up on the same kit."""
    with JackServer("again") as server:
        one = Terminal(
            *("play", "singles-three-drums", "--plain", "--tempo", "100", "--port", "stage kit"),
            *("--recordings", str(tmp_path)),
            started=Sender("Stage Kit"),
        )
        try:
            server.stop()
        finally:
            one.end()
