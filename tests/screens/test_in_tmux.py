"""The demo in a real terminal with real keys, from the first beat to the saved summary."""

from __future__ import annotations

import subprocess
import sys
import time
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


@pytest.fixture
def tmux(tmp_path: Path) -> Iterator[Tmux]:
    """Return a terminal of 80x24 that runs the demo."""
    server = Tmux(f"trainer-test-{tmp_path.name}")
    command = f"{sys.executable} -m trainer demo --recordings {tmp_path}; echo back; sleep 60"
    server.run("new-session", "-d", "-x", "80", "-y", "24", "-c", str(ROOT), command)
    yield server
    server.run("kill-server")


def test_the_demo_from_the_first_beat_to_the_summary(tmux: Tmux, tmp_path: Path) -> None:
    """Strokes, pause, faster, help, quit, summary, and the shell back as it was."""
    tmux.wait("beat 2 of 3")
    screen = tmux.wait(" ms ")
    assert "snare" in screen
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
