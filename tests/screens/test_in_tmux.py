"""The demo in a real terminal with real keys, from the first beat to the saved summary."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from tmux import running

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
