"""The demo in a real terminal with real keys, from the first beat to the saved summary."""

from __future__ import annotations

import sys
import threading
import time
from typing import TYPE_CHECKING

import pytest
from tmux import running, shell

from trainer.screens.trainer_app import HOLD_S

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tmux import Tmux

pytestmark = pytest.mark.tmux


@pytest.fixture
def tmux(tmp_path: Path) -> Iterator[Tmux]:
    """Return a terminal that runs the demo."""
    with running(tmp_path.name, f"demo --recordings {tmp_path}") as server:
        yield server


def test_the_demo_from_the_first_beat_to_the_summary(tmux: Tmux, tmp_path: Path) -> None:
    """Strokes, pause, faster, help, quit, summary, and the shell back as it was."""
    tmux.wait("beat 2 of 4")
    tmux.wait(" ms ")
    tmux.wait("snare ")
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
    time.sleep(2 * HOLD_S)
    tmux.run("send-keys", "q")
    tmux.wait("back")
    assert len(list(tmp_path.glob("*.jsonl"))) == 1


def test_an_example_is_gone_through_over_another_session(tmp_path: Path) -> None:
    """Parts, steps, cells in words, a picture in the player's own folder, and the shell again."""
    with running(tmp_path.name, "replay example-ladder --over example-ladder") as tmux:
        tmux.wait("over example-ladder (all of it)")
        tmux.wait(" no different")
        tmux.run("send-keys", "w", "[")
        tmux.wait("rung 4 of 5 alone")
        tmux.run("send-keys", "w", "l", "Up")
        tmux.wait("left hand, bar 1, beat 1")
        tmux.run("send-keys", "x")
        tmux.wait("Picture saved")
        tmux.run("send-keys", "q")
        tmux.wait("back")
    assert (tmp_path / "home" / "recordings" / "example-ladder-map.svg").exists()


MARKER = "a line of the shell"


class Watch:
    """Looks at the terminal again and again, and keeps each look that is not the full screen."""

    def __init__(self, tmux: Tmux) -> None:
        self._tmux, self._ended = tmux, threading.Event()
        self._thread = threading.Thread(target=self._look)
        self.looks, self.left = 0, list[str]()

    def _look(self) -> None:
        while not self._ended.wait(0.02):
            pane = self._tmux.run("capture-pane", "-p")
            self.looks += 1
            if MARKER in pane or not self._tmux.full_screen:
                self.left.append(pane)

    def __enter__(self) -> Watch:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()


def test_from_home_through_everything_and_back_the_full_screen_is_never_left(
    tmp_path: Path,
) -> None:
    """Keys, summary, replay, history, tab, and a wrong key or two: nothing reaches the shell."""
    with shell(tmp_path.name) as tmux:
        tmux.keys(f"echo {MARKER}", "Enter")
        tmux.wait(f"\n{MARKER}")
        tmux.keys(f"{sys.executable} -m trainer", "Enter")
        tmux.wait("playing on the computer keys")
        with Watch(tmux) as watch:
            for _ in range(2):
                play_on_keys(tmux)
            tmux.keys("r")
            tmux.wait("whole session")
            go_home(tmux)
            tmux.keys("h")
            tmux.wait("One pattern")
            tmux.keys("Enter")
            tmux.wait("whole session")
            tmux.keys("q")
            tmux.wait("One pattern")
            go_home(tmux)
            tmux.keys("s")
            tmux.wait("as tab")
            go_home(tmux)
        tmux.keys("q")
        pane = tmux.wait("-m trainer\n$")
        assert MARKER in pane
        assert watch.looks > 20
        assert not watch.left, watch.left[0]
        assert not tmux.full_screen
        # The shell shows what it showed, and its prompt with nothing typed behind it.
        assert pane.rstrip().splitlines()[-1].strip() == "$"
    sessions = [*(tmp_path / "home" / "recordings").glob("*.jsonl")]
    assert len(sessions) == 2


def play_on_keys(tmux: Tmux) -> None:
    """Practise from home, strike some keys, leave while still striking, and come home again."""
    tmux.keys("Enter")
    tmux.wait("before you play")
    tmux.keys("Enter")
    tmux.wait("Save, quit")
    tmux.wait("count-in")
    tmux.wait_gone("count-in")
    tmux.keys(*"ghgh")
    tmux.keys(*"ghqgh")
    tmux.wait("Saved:")
    tmux.keys(*"gh")
    time.sleep(2 * HOLD_S)
    go_home(tmux)


def go_home(tmux: Tmux) -> None:
    """Close what is open; home shows what is played on."""
    tmux.keys("q")
    tmux.wait("playing on the computer keys")
    time.sleep(2 * HOLD_S)
