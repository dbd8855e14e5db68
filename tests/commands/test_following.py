"""Playing in lines of text: keys and signals, in a terminal of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from itertools import combinations
from typing import TYPE_CHECKING

import pytest
from patience import LIMIT_S
from terminals import Terminal, wait_for_strikes

from trainer.archive.session_file import open_session
from trainer.console import keys_can_be_read

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="terminals of Unix systems")


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Callable[..., Terminal]]:
    """Start the program in terminals of its own; all are gone after the test."""
    made: list[Terminal] = []
    asked = ("play", "fives-and-threes", "--plain", "--tempo", "200", "--recordings")

    def make(*args: str) -> Terminal:
        made.append(Terminal(*asked, str(tmp_path), *args))
        return made[-1]

    yield make
    for one in made:
        one.end()


def test_keys_pause_go_on_change_the_tempo_and_end(terminal: Callable[..., Terminal]) -> None:
    """The keys of the screen work without it, and each is answered in words."""
    one = terminal("--port", "simulated")
    one.read_to("Count-in")
    one.type("+")
    one.read_to("201 BPM from the next pass, in ")
    one.type(" ")
    one.read_to("Paused.")
    one.type(" ")
    one.read_to("Continuing")
    one.read_to("Pass 1 at 201 BPM.")
    one.said = ""
    one.read_to("Bar ")
    one.type("q")
    one.read_to("Saved: ")

    assert one.process.wait(LIMIT_S) == 0


def test_the_computer_keys_are_a_kit(terminal: Callable[..., Terminal], tmp_path: Path) -> None:
    """Keys that mean nothing else are strokes, stamped when they were pressed."""
    one = terminal("--port", "keys")
    one.read_to("Bar 1")
    pressed_s, seen_s = [], []
    for count in range(4):
        pressed_s.append(time.monotonic())
        one.type("g")
        wait_for_strikes(tmp_path, count + 1)
        seen_s.append(time.monotonic())
    one.type("q")
    one.read_to("Saved: ")
    session = open_session(next(tmp_path.glob("*.jsonl")))

    assert [strike.note for strike in session.strikes] == [38] * 4
    for first, second in combinations(range(4), 2):
        step_s = session.strikes[second].time_s - session.strikes[first].time_s
        assert pressed_s[second] - seen_s[first] < step_s < seen_s[second] - pressed_s[first]


def test_the_terminal_gets_its_settings_back(terminal: Callable[..., Terminal]) -> None:
    """After the end, typed characters are shown again and lines are lines."""
    import termios

    one = terminal("--port", "simulated")
    before = termios.tcgetattr(one.fd)[3]
    one.read_to("Count-in")
    assert not termios.tcgetattr(one.fd)[3] & termios.ICANON
    one.read_to("Bar 1")
    one.type("q")
    one.read_to("Saved: ")
    one.process.wait(LIMIT_S)

    assert termios.tcgetattr(one.fd)[3] == before


def test_a_terminal_that_goes_away_leaves_a_saved_session(
    terminal: Callable[..., Terminal], tmp_path: Path
) -> None:
    """The window is closed in the middle: the session is finished, both processes end."""
    one = terminal("--port", "simulated")
    one.read_to("Bar 1")
    one.close()
    one.process.wait(LIMIT_S)

    assert open_session(next(tmp_path.glob("*.jsonl"))).summary is not None


def test_asked_to_end_it_saves_and_shows(terminal: Callable[..., Terminal]) -> None:
    """SIGTERM to the program ends like its own key: saved and summed up."""
    one = terminal("--port", "simulated")
    one.read_to("Bar 1")
    one.process.send_signal(signal.SIGTERM)
    one.read_to("Saved: ")

    assert one.process.wait(LIMIT_S) == 0


def test_keys_need_a_terminal(tmp_path: Path) -> None:
    """With nothing to type on, the computer keys are refused in one sentence."""
    done = subprocess.run(
        [sys.executable, "-m", "trainer", "play", "fives-and-threes", "--port", "keys"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=LIMIT_S,
        env=os.environ | {"PYTHONPATH": os.getcwd()},
    )

    assert done.returncode == 2
    assert done.stderr.startswith("--port keys: keys can only be read from a terminal")


def test_a_terminal_of_somebody_else_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keys are not read from a terminal that does not control the program, and nothing fails."""
    import pty

    ours, theirs = pty.openpty()
    with os.fdopen(theirs) as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        assert not keys_can_be_read()
    os.close(ours)
