"""A window that changes its size while playing: nothing is lost, nothing is left over."""

from __future__ import annotations

import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest
from patience import until
from terminals import finished
from tmux import ROOT, Tmux, running

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

SIZES = [(80, 24), (40, 10), (200, 60), (120, 40), (60, 16), (80, 24), (300, 90), (40, 10)]
PLAY = "demo --passes 2 --tempo 240 --recordings"

pytestmark = pytest.mark.tmux


class Window(Tmux):
    """A terminal whose size is changed, and whose screen is compared."""

    def resize(self, size: tuple[int, int]) -> None:
        self.run("resize-window", "-x", str(size[0]), "-y", str(size[1]))

    def still(self) -> str:
        """Return what is shown once it no longer changes; drawing takes time."""
        looks = [self.shows()]

        def look() -> None:
            time.sleep(1.0)
            looks.append(self.shows())

        until(lambda: looks[1:] and looks[-1] == looks[-2], "a screen that stands still", look)
        return looks[-1]

    def comes_back(self, picture: str) -> bool:
        """Whether a picture is shown again, sooner or later."""
        return until(lambda: self.shows() == picture, lambda: f"{picture}\nbut {self.shows()}")


@pytest.fixture
def window(tmp_path: Path) -> Iterator[Window]:
    """Return a window that runs the demo."""
    with running(tmp_path.name, f"{PLAY} {tmp_path / 'seen'}", Window) as made:
        yield made


def test_resizing_while_playing_loses_nothing_and_leaves_nothing(
    window: Window, tmp_path: Path
) -> None:
    """Every stroke is kept, and a picture that comes back is the same as before."""
    window.wait("beat 1 of 4")
    for size in [*SIZES, *SIZES]:
        window.resize(size)
        time.sleep(0.25)
    window.resize((80, 24))
    window.wait("Saved:")
    window.wait("Close")
    first = window.still()
    for size in SIZES:
        window.resize(size)
        time.sleep(0.1)
    window.resize((80, 24))

    assert window.comes_back(first)
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
        assert window.comes_back(picture), size


def _at(window: Window, size: tuple[int, int]) -> str:
    """Return what is shown at a size once it is drawn to its last line."""
    window.resize(size)
    window.wait("Restart")
    return window.still()
