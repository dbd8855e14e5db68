"""The demo in a real terminal with real keys, from the first beat to the saved summary."""

from __future__ import annotations

import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.tmux


class Tmux:
    """A server of its own, so that nobody's sessions are touched."""

    def __init__(self, name: str) -> None:
        self._base = ["tmux", "-L", name, "-f", "/dev/null"]

    def run(self, *arguments: str) -> str:
        return subprocess.run(
            [*self._base, *arguments], capture_output=True, text=True, check=False
        ).stdout

    def wait(self, text: str, limit_s: float = 60.0) -> str:
        """Return the screen once it shows a text."""
        end = time.monotonic() + limit_s
        while text not in (screen := self.run("capture-pane", "-p")):
            assert time.monotonic() < end, f"{text!r} never came:\n{screen}"
            time.sleep(0.1)
        return screen


@contextmanager
def running(name: str, arguments: str) -> Iterator[Tmux]:
    """Give a terminal of 80x24 that runs the program."""
    server = Tmux(f"trainer-test-{name}")
    command = f"{sys.executable} -m trainer {arguments}; echo back; sleep 60"
    server.run("new-session", "-d", "-x", "80", "-y", "24", "-c", str(ROOT), command)
    try:
        yield server
    finally:
        server.run("kill-server")


@pytest.fixture
def tmux(tmp_path: Path) -> Iterator[Tmux]:
    """Return a terminal that runs the demo."""
    with running(tmp_path.name, f"demo --recordings {tmp_path}") as server:
        yield server


def test_the_demo_from_the_first_beat_to_the_summary(tmux: Tmux, tmp_path: Path) -> None:
    """Strokes, pause, faster, help, quit, summary, and the shell back as it was."""
    tmux.wait("beat 2 of 3")
    tmux.wait(" ms ")
    tmux.wait(" SN ")
    tmux.run("send-keys", "space")
    tmux.wait("paused")
    tmux.run("send-keys", "Up")
    tmux.wait("next")
    tmux.run("send-keys", "?")
    tmux.wait("missed: nothing landed")
    tmux.run("send-keys", "?")
    tmux.wait("paused")
    tmux.run("send-keys", "q")
    tmux.wait("Saved:")
    tmux.run("send-keys", "q")
    tmux.wait("back")
    assert len(list(tmp_path.glob("*.jsonl"))) == 1


def test_an_example_is_gone_through_over_another_session(tmp_path: Path) -> None:
    """Parts, steps, cells in words, a picture in the player's own folder, and the shell again."""
    with running(tmp_path.name, "replay example-ladder --over example-ladder") as tmux:
        tmux.wait("over example-ladder (all of it)")
        tmux.wait("here no clear difference")
        tmux.run("send-keys", "w", "[")
        tmux.wait("rung 5 of 6 alone")
        tmux.run("send-keys", "w", "l")
        tmux.wait("left hand, bar 1, beat 1")
        tmux.run("send-keys", "x")
        tmux.wait("Picture saved")
        tmux.run("send-keys", "q")
        tmux.wait("back")
    assert (tmp_path / "home" / "recordings" / "example-ladder-map.svg").exists()
