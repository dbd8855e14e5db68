"""Pads that act as keys between the rungs of a ladder: the whole program, over real MIDI."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from terminals import Terminal, finished

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from conftest import Sender

pytestmark = pytest.mark.jack

SNARE, CRASH, RIDE = 38, 49, 51
KEYS = ("snare=toggle", "crash=restart", "ride=quit")


@pytest.fixture
def climbing(tmp_path: Path) -> Iterator[Callable[[str], Terminal]]:
    """Climb on a port, said in lines of text; a rung is six bars of a second each."""
    made: list[Terminal] = []

    def make(port: str) -> Terminal:
        asked = ["ladder", "single-stroke-roll", "--plain", "--from", "240", "--passes", "6"]
        keys = [one for key in KEYS for one in ("--pad-key", key)]
        made.append(Terminal(*asked, *keys, "--port", port, "--recordings", str(tmp_path)))
        return made[-1]

    yield make
    for one in made:
        one.end()


def read_next(terminal: Terminal, text: str) -> None:
    """Read on until a text is said once more."""
    terminal.said = ""
    terminal.read_to(text)


def test_between_rungs_a_pad_stops_starts_begins_again_and_ends(
    sender: Callable[[str], Sender], climbing: Callable[[str], Terminal], tmp_path: Path
) -> None:
    """A stroke on a pad that the pattern uses is a key in the rest, and music in the rung."""
    kit = sender("Rung Kit")
    one = climbing("rung kit")

    def strike(*notes: int) -> None:
        kit.play([(0.2 * place, (0x99, note, 100)) for place, note in enumerate(notes)])

    one.read_to("Rest: 3 seconds")
    strike(SNARE, SNARE)  # the second one is too soon: a pad acts once in half a second
    one.read_to("Paused.")
    one.read(0.7)
    assert "Continuing" not in one.said
    strike(SNARE)
    read_next(one, "Continuing.")
    one.read_to("Pass 7 at")  # said once its first bar is over
    kit.play([(0.1 * count, (0x99, SNARE, 100)) for count in range(4)])
    read_next(one, "Rest: 3 seconds")
    assert "Paused" not in one.said
    strike(CRASH)
    read_next(one, "Count-in")
    read_next(one, "Rest: 3 seconds")
    strike(RIDE)
    read_next(one, "Saved: ")

    session = finished(tmp_path)
    assert one.wait() == 0
    assert [mark.kind for mark in session.marks if mark.kind != "stall"] == ["pause", "resume"]
    assert [made.note for made in session.strikes] == [SNARE] * 4
    assert [made.note for made in session.idle] == [SNARE] * 3 + [CRASH, RIDE]
    assert len(session.rungs) == 3
