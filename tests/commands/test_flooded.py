"""The whole program, screen and all, while a kit floods it over real MIDI."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from patience import until
from terminals import Terminal, finished

from trainer.screens.trainer_app import HOLD_S

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from conftest import Sender

pytestmark = [pytest.mark.jack, pytest.mark.alone]

RATE, SECONDS = 2000, 1.5


def message(k: int) -> list[int]:
    """Return the kth message: strokes, with system exclusive and real-time bytes among them."""
    if k % 50 == 7:
        return [0xF0, 0x41, *([k % 128] * 60), 0xF7]
    return {3: [0xFE], 5: [0xF8], 8: [0xB9, 4, k % 128]}.get(
        k % 10, [0x99, 35 + k % 48, 1 + k % 127]
    )


def test_the_screen_lives_and_nothing_is_lost(
    sender: Callable[[str], Sender], tmp_path: Path
) -> None:
    """In a flood every message that was read is accounted for, and the screen obeys a key."""
    kit = sender("Wild Kit")
    asked = ("play", "fives-and-threes", "--port", "wild kit", "--tempo", "200")
    one = Terminal(*asked, "--recordings", str(tmp_path))
    try:
        one.read_to("count-in")
        kit.start([(k / RATE, message(k)) for k in range(int(RATE * SECONDS))])
        until(kit.is_done, "the end of the flood", lambda: one.read(0.2))
        one.read(0.5)
        one.type("q")
        one.read_to("Saved:")
        session = finished(tmp_path)
        one.read(2 * HOLD_S)
        one.type("q")
        assert one.wait() == 0
    finally:
        one.end()
    timing = session.header.timing["source"]
    kept = len(session.strikes) + len(session.idle) + len(session.controls)

    assert kept + timing["other_messages"] == timing["read_late"]["count"]
    assert timing["read_late"]["count"] > 0.9 * RATE * SECONDS
    assert "Traceback" not in one.said
