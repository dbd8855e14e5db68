"""A fault in the screen itself: recording goes on, in lines of text, and it is said once."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest
from terminals import Terminal, finished, play_simulated, strikes_on_disk, wait_for_strikes

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = [
    pytest.mark.faulty,
    pytest.mark.skipif(sys.platform == "win32", reason="terminals of Unix systems"),
]

PLANTED = """
import importlib, sys
from trainer.cli import run

module, owner, name = {place!r}
kind = getattr(importlib.import_module(module), owner)
whole, calls = getattr(kind, name), []

def faulty(self, *given, **more):
    calls.append(name)
    if len(calls) > {after}:
        raise KeyError("planted")
    return whole(self, *given, **more)

setattr(kind, name, faulty)
sys.exit(run(sys.argv[1:]))
"""

PLACES = [
    (("trainer.screens.widgets.bar_grid", "BarGrid", "draw_lines"), 60),
    (("trainer.screens.widgets.canvas", "Canvas", "render_line"), 200),
    (("trainer.screens.live", "LiveScreen", "_move_cursor"), 20),
    (("trainer.screens.widgets.figures", "Figures", "_take_turn"), 3),
]
"""A widget drawing, the compositor asking, and two callbacks of the event loop."""


@pytest.fixture
def failing(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Terminal]:
    """Return practice whose screen fails after a while."""
    place, after = request.param
    asked = ("play", "fives-and-threes", "--port", "simulated", "--tempo", "200")
    made = Terminal(
        *(*asked, "--recordings", str(tmp_path / "kept")),
        start=("-c", PLANTED.format(place=place, after=after)),
    )
    yield made
    made.end()


@pytest.mark.parametrize("failing", PLACES, indirect=True, ids=lambda place: place[0][2])
def test_a_screen_that_fails_never_stops_the_recording(failing: Terminal, tmp_path: Path) -> None:
    """The same session goes on as text with its keys, and is saved whole when asked to end."""
    failing.read_to("Recording continues in lines of text")
    failing.read_to("KeyError, ")
    before = strikes_on_disk(tmp_path / "kept")
    wait_for_strikes(tmp_path / "kept", before + 20)
    failing.read_to("on average")
    failing.type("q")

    assert failing.wait() == 0
    assert "Saved:" in failing.said
    assert "Traceback" not in failing.said
    session = finished(tmp_path / "kept")
    assert len(session.strikes) >= before + 20
    assert not session.recovered


def test_a_screen_that_fails_after_home_does_not_either(tmp_path: Path) -> None:
    """Begun at home, the recording goes on in the same way; then the program is over."""
    place, after = PLACES[0]
    one = Terminal(start=("-c", PLANTED.format(place=place, after=after)))
    kept = tmp_path / "home" / "recordings"
    try:
        play_simulated(one)
        one.read_to("Recording continues in lines of text")
        before = strikes_on_disk(kept)
        wait_for_strikes(kept, before + 8)
        one.type("q")
        assert one.wait() == 0
    finally:
        one.end()
    assert "Traceback" not in one.said
    assert not finished(kept).recovered
