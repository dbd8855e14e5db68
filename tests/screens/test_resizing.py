"""A window that changes its size while playing: nothing is lost, nothing is left over."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from terminals import finished

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).resolve().parents[2]
SIZES = [(80, 24), (40, 10), (200, 60), (120, 40), (60, 16), (80, 24), (300, 90), (40, 10)]
PLAY = "demo --passes 2 --tempo 240 --recordings"

pytestmark = pytest.mark.tmux


class Window:
    """A tmux server of its own with one window."""

    def __init__(self, name: str, command: str) -> None:
        self._base = ["tmux", "-L", name, "-f", "/dev/null"]
        self.run("new-session", "-d", "-x", "80", "-y", "24", "-c", str(ROOT), command)

    def run(self, *arguments: str) -> str:
        told = subprocess.run(
            [*self._base, *arguments], capture_output=True, text=True, check=False
        )
        return told.stdout

    def resize(self, size: tuple[int, int]) -> None:
        self.run("resize-window", "-x", str(size[0]), "-y", str(size[1]))

    def shows(self) -> str:
        return self.run("capture-pane", "-p")

    def wait(self, text: str, limit_s: float = 40.0) -> None:
        end = time.monotonic() + limit_s
        while text not in self.shows():
            assert time.monotonic() < end, f"{text!r} never came:\n{self.shows()}"
            time.sleep(0.1)

    def still(self, wanted: str | None = None) -> str:
        """Return what is shown once it no longer changes, or is as wanted; drawing takes time."""
        before, now, end = "", self.shows(), time.monotonic() + 15.0
        while (before != now or wanted not in (None, now)) and time.monotonic() < end:
            time.sleep(1.0)
            before, now = now, self.shows()
        return now


@pytest.fixture
def window(tmp_path: Path) -> Iterator[Window]:
    """Return a window that runs the demo."""
    command = f"{sys.executable} -m trainer {PLAY} {tmp_path / 'seen'}; echo back; sleep 60"
    made = Window(f"trainer-sizes-{tmp_path.name}", command)
    yield made
    made.run("kill-server")


def test_resizing_while_playing_loses_nothing_and_leaves_nothing(
    window: Window, tmp_path: Path
) -> None:
    """Every stroke is kept, and a picture that comes back is the same as before."""
    window.wait("beat 1 of 3")
    for size in [*SIZES, *SIZES]:
        window.resize(size)
        time.sleep(0.25)
    window.resize((80, 24))
    window.wait("Saved:", 60.0)
    first = window.still()
    for size in SIZES:
        window.resize(size)
        time.sleep(0.1)
    window.resize((80, 24))
    time.sleep(0.5)

    assert window.still(first) == first
    window.run("send-keys", "q")
    window.wait("back")
    assert "Traceback" not in window.shows()
    play = [sys.executable, "-m", "trainer", *PLAY.split(), str(tmp_path / "meant"), "--fast"]
    subprocess.run(play, cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    assert finished(tmp_path / "seen").strikes == finished(tmp_path / "meant").strikes


def test_a_paused_grid_comes_back_as_it_was(window: Window) -> None:
    """Paused, the screen is the same after every other size; nothing of those is left on it."""
    window.wait("LH")
    window.run("send-keys", "space")
    window.wait("paused")
    pictures = {size: _at(window, size) for size in ((80, 24), (200, 60), (120, 40))}
    window.resize((40, 10))
    time.sleep(0.3)
    for size, picture in pictures.items():
        window.resize(size)
        assert window.still(picture) == picture, size


def _at(window: Window, size: tuple[int, int]) -> str:
    """Return what is shown at a size once it is drawn to its last line."""
    window.resize(size)
    window.wait("Restart")
    return window.still()
