"""Every way a session can be torn from its player: whatever happens, what was played is kept."""

from __future__ import annotations

import os
import signal
import sys
from typing import TYPE_CHECKING

import pytest
from terminals import Terminal, engine_of, finished, strikes_on_disk, wait_for_end, wait_for_strikes

from trainer.screens.trainer_app import HOLD_S

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="terminals of Unix systems")


@pytest.fixture
def playing(tmp_path: Path) -> Iterator[Callable[..., Terminal]]:
    """Start practice, with the screen unless asked otherwise, and wait for the first strokes."""
    made: list[Terminal] = []

    def make(*args: str) -> Terminal:
        asked = ("play", "singles-three-drums", "--port", "simulated", "--tempo", "200")
        made.append(Terminal(*asked, "--recordings", str(tmp_path / "kept"), *args))
        wait_for_strikes(tmp_path / "kept", 8)
        return made[-1]

    yield make
    for one in made:
        one.end()


def test_the_screen_alone_is_killed(playing: Callable[..., Terminal], tmp_path: Path) -> None:
    """`kill -9` of the screen: the engine finishes and saves within a second or so."""
    one = playing()
    one.read(0.5)
    one.process.kill()
    one.process.wait()
    session = finished(tmp_path / "kept", 1.5)

    assert len(session.strikes) >= 8
    assert not session.recovered


@pytest.mark.parametrize("face", [(), ("--plain",)])
def test_the_engine_alone_is_killed(
    playing: Callable[..., Terminal], tmp_path: Path, face: tuple[str, ...]
) -> None:
    """`kill -9` of the engine: the player is told, and what was written is finished at once."""
    one = playing(*face)
    kept = strikes_on_disk(tmp_path / "kept")
    os.kill(engine_of(one.process.pid), signal.SIGKILL)

    assert one.wait(10) == 1
    assert "ended early; the session is saved up to there" in one.said
    assert "was cut off. It is finished now" in one.said
    assert "Traceback" not in one.said
    session = finished(tmp_path / "kept", 0.5)
    assert session.recovered
    assert len(session.strikes) >= kept


@pytest.mark.parametrize("name", ["SIGHUP", "SIGTERM", "SIGINT"])
def test_the_screen_is_asked_to_end(
    playing: Callable[..., Terminal], tmp_path: Path, name: str
) -> None:
    """A signal to the screen, even twice, ends it with the session saved and no traceback."""
    one = playing()
    one.process.send_signal(getattr(signal, name))
    one.process.send_signal(getattr(signal, name))
    one.wait(15)
    session = finished(tmp_path / "kept")

    assert len(session.strikes) >= 8
    assert not session.recovered
    assert "Traceback" not in one.said


def test_control_c_twice_on_the_screen(playing: Callable[..., Terminal], tmp_path: Path) -> None:
    """Ctrl-C typed twice ends the session: saved, and the summary is shown until it is closed."""
    one = playing()
    one.read(1.0)
    one.type("\x03\x03")
    session = finished(tmp_path / "kept")
    one.read_to("Close")
    one.read(2 * HOLD_S)
    one.type("q")
    assert one.wait(10) == 0

    assert len(session.strikes) >= 8
    assert not session.recovered
    assert "Traceback" not in one.said


def test_the_window_is_closed(playing: Callable[..., Terminal], tmp_path: Path) -> None:
    """The terminal goes away under the screen: both processes end, the session is saved."""
    one = playing()
    engine = engine_of(one.process.pid)
    one.close()
    session = finished(tmp_path / "kept")

    assert len(session.strikes) >= 8
    one.process.wait(10)
    wait_for_end(engine)


def test_a_window_of_no_size(playing: Callable[..., Terminal], tmp_path: Path) -> None:
    """Resized to nothing, to one cell and to a wall, the screen lives, plays on, and saves."""
    one = playing()
    for rows, columns in ((0, 0), (1, 1), (2, 300), (200, 3), (120, 500), (40, 120)):
        one.resize(rows, columns)
        before = strikes_on_disk(tmp_path / "kept")
        one.read(0.4)
        assert one.process.poll() is None
        wait_for_strikes(tmp_path / "kept", before + 1)
    one.type("q")
    session = finished(tmp_path / "kept")

    assert not session.recovered
    assert "Traceback" not in one.said
