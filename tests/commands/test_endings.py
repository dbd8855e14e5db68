"""Every way a session can be torn from its player: whatever happens, what was played is kept."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from patience import LIMIT_S, until
from terminals import (
    Terminal,
    begin,
    engine_of,
    finished,
    play_simulated,
    strikes_on_disk,
    wait_for_end,
    wait_for_strikes,
)

from trainer.archive.session_file import open_session
from trainer.screens.trainer_app import HOLD_S

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="terminals of Unix systems")

SIMULATED = ("play", "fives-and-threes", "--port", "simulated", "--tempo", "200")


@pytest.fixture
def playing(tmp_path: Path) -> Iterator[Callable[..., Terminal]]:
    """Start practice, with the screen unless asked otherwise, and wait for the first strokes."""
    made: list[Terminal] = []

    def make(*args: str) -> Terminal:
        made.append(Terminal(*SIMULATED, "--recordings", str(tmp_path / "kept"), *args))
        wait_for_strikes(tmp_path / "kept", 8)
        return made[-1]

    yield make
    for one in made:
        one.end()


def test_the_screen_alone_is_killed(playing: Callable[..., Terminal], tmp_path: Path) -> None:
    """`kill -9` of the screen: the engine finishes and saves before its pass is over, and ends."""
    one = playing()
    one.read_to("Restart")
    engine = engine_of(one.process.pid)
    one.process.kill()
    one.process.wait()
    wait_for_end(engine)
    session = finished(tmp_path / "kept")

    assert len(session.strikes) >= 8
    assert len(session.passes) == 1
    assert not session.recovered


@pytest.mark.parametrize("face", [(), ("--plain",)])
def test_the_engine_alone_is_killed(
    playing: Callable[..., Terminal], tmp_path: Path, face: tuple[str, ...]
) -> None:
    """`kill -9` of the engine: the player is told, and what was written is finished at once."""
    one = playing(*face)
    kept = strikes_on_disk(tmp_path / "kept")
    os.kill(engine_of(one.process.pid), signal.SIGKILL)

    assert one.wait() == 1
    assert "ended early; the session is saved up to there" in one.said
    assert "was cut off. It is finished now" in one.said
    assert "Traceback" not in one.said
    (path,) = (tmp_path / "kept").glob("*.jsonl")
    session = open_session(path)
    assert session.summary is not None
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
    one.wait()
    session = finished(tmp_path / "kept")

    assert len(session.strikes) >= 8
    assert not session.recovered
    assert "Traceback" not in one.said


def test_control_c_twice_on_the_screen(playing: Callable[..., Terminal], tmp_path: Path) -> None:
    """Ctrl-C typed twice ends the session: saved, and the summary is shown until it is closed."""
    one = playing()
    one.read_to("Restart")
    one.type("\x03\x03")
    session = finished(tmp_path / "kept")
    one.read_to("Close")
    one.read(2 * HOLD_S)
    one.type("q")
    assert one.wait() == 0

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
    one.process.wait(LIMIT_S)
    wait_for_end(engine)


DEAF = (
    "-c",
    "import signal, sys; signal.signal(signal.SIGHUP, signal.SIG_IGN); "
    "from trainer.__main__ import main; sys.exit(main())",
)
"""Starts the program as one that no SIGHUP reaches, as in some containers."""

PHASES = {
    "before the screen": ("", ""),
    "as the screen begins": ("[?1049h", ""),
    "count-in": ("count-in", ""),
    "playing": ("pass 1", ""),
    "paused": ("pass 1", " "),
    "help": ("pass 1", "?"),
    "summary": ("pass 1", "q"),
}
"""What is waited for before the terminal closes, and the key that is typed then."""


@pytest.mark.parametrize("start", [("-m", "trainer"), DEAF], ids=["", "deaf"])
@pytest.mark.parametrize("phase", PHASES)
def test_the_window_is_closed_at_any_time(tmp_path: Path, phase: str, start: tuple[str]) -> None:
    """Whenever the terminal closes, and whether or not a signal says so, the program ends."""
    text, key = PHASES[phase]
    one = Terminal(*SIMULATED, "--recordings", str(tmp_path / "kept"), start=start)
    try:
        one.read_to(text)
        if key:
            wait_for_strikes(tmp_path / "kept", 4)
            one.read(0.2)
            one.said = ""
            one.type(key)
            one.read_to({" ": "continues", "?": "Back", "q": "Close"}[key])
        children = children_of(one.process.pid)
        one.close()
        one.process.wait(LIMIT_S)
        for child in children:
            wait_for_end(child)
    finally:
        one.end()
    for path in (tmp_path / "kept").glob("*.jsonl"):
        assert open_session(path).summary is not None


def test_a_closed_window_waits_for_no_engine(
    playing: Callable[..., Terminal], tmp_path: Path
) -> None:
    """The program is gone while an engine that hangs still has to save, and then it does."""
    one = playing()
    engine = engine_of(one.process.pid)
    os.kill(engine, signal.SIGSTOP)
    try:
        one.close()
        one.process.wait(LIMIT_S)
        kept = [open_session(path) for path in (tmp_path / "kept").glob("*.jsonl")]
        assert [session.summary for session in kept] == [None]
    finally:
        os.kill(engine, signal.SIGCONT)

    assert len(finished(tmp_path / "kept").strikes) >= 8


def test_a_window_that_takes_nothing_is_closed(
    playing: Callable[..., Terminal], tmp_path: Path
) -> None:
    """Also a program that waits for its terminal, with more to draw than is taken, ends."""
    one = playing()
    one.read_to("Restart")
    for _ in range(40):
        one.type("?\x1b")
        time.sleep(0.1)
    one.close()

    one.process.wait(LIMIT_S)
    assert len(finished(tmp_path / "kept").strikes) >= 8


@pytest.mark.parametrize("face", ["--plain", "--json"])
def test_the_window_is_closed_under_lines_of_text(tmp_path: Path, face: str) -> None:
    """Lines of text end with their terminal too, also where they have nothing to say."""
    one = Terminal(*SIMULATED, face, "--recordings", str(tmp_path / "kept"), start=DEAF)
    try:
        wait_for_strikes(tmp_path / "kept", 8)
        if face == "--plain":
            one.type(" ")
            one.read_to("Paused")
        one.close()
        one.process.wait(LIMIT_S)
    finally:
        one.end()

    assert len(finished(tmp_path / "kept").strikes) >= 8


@pytest.mark.parametrize("face", ["--plain", "--json"])
def test_nobody_reads_the_pipe_any_more(tmp_path: Path, face: str) -> None:
    """Where the reader of its lines has ended, the program ends too, and saves."""
    program = subprocess.Popen(
        [sys.executable, "-m", "trainer", *SIMULATED, face, "--recordings", tmp_path / "kept"],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
    )
    try:
        wait_for_strikes(tmp_path / "kept", 8)
        assert program.stdout
        program.stdout.close()
        program.wait(LIMIT_S)
    finally:
        program.kill()

    assert len(finished(tmp_path / "kept").strikes) >= 8


@pytest.mark.parametrize("face", [(), ("--plain",)])
def test_the_program_is_killed_while_the_engine_starts(
    tmp_path: Path, face: tuple[str, ...]
) -> None:
    """`kill -9` as soon as there is an engine: it ends, and leaves nothing unfinished."""
    one = Terminal(*SIMULATED, *face, "--recordings", str(tmp_path / "kept"))
    try:
        engine = until(lambda: engine_if_any(one.process.pid), "an engine", lambda: one.read(0.01))
        one.process.kill()
        one.process.wait()
        wait_for_end(engine)
        one.read(0.2)
    finally:
        one.end()

    assert "Traceback" not in one.said
    for path in (tmp_path / "kept").glob("*.jsonl"):
        assert open_session(path).summary is not None


def engine_if_any(program: int) -> int | None:
    """Return the engine of a program, None where there is none yet."""
    try:
        return engine_of(program)
    except (AssertionError, OSError):
        return None


def children_of(program: int) -> list[int]:
    """Return the processes that a program has started."""
    listed = Path(f"/proc/{program}/task").glob("*/children")
    return [int(child) for children in listed for child in children.read_text().split()]


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


@pytest.fixture
def at_home() -> Iterator[Terminal]:
    """Practise from home with the simulated player."""
    made = Terminal()
    play_simulated(made)
    yield made
    made.end()


def test_the_engine_is_killed_after_home(at_home: Terminal, tmp_path: Path) -> None:
    """The player is told on a screen, and goes on from home; the next session is whole."""
    kept = tmp_path / "home" / "recordings"
    for count in (1, 2):
        wait_for(at_home, lambda so_far=count: _played(kept) == so_far)
        os.kill(engine_of(at_home.process.pid), signal.SIGKILL)
        at_home.read_to("ended early; the session is saved up to there")
        at_home.read(2 * HOLD_S)
        at_home.said = ""
        at_home.type("q")
        at_home.read_to("playing on")
        at_home.read(2 * HOLD_S)
        begin(at_home)
    wait_for(at_home, lambda: _played(kept) == 3)
    at_home.read_to("Save, quit")
    at_home.read(2 * HOLD_S)
    at_home.type("q")
    at_home.read_to("Saved:")
    at_home.read(2 * HOLD_S)
    at_home.type("q")
    at_home.read(1.0)
    at_home.type("q")

    assert at_home.wait() == 0
    assert "Traceback" not in at_home.said
    assert sorted(one.recovered for one in map(open_session, kept.glob("*.jsonl"))) == [
        *(False, True, True)
    ]


def test_all_is_killed_after_home(at_home: Terminal, tmp_path: Path) -> None:
    """`kill -9` of the program that began at home: its engine finishes and saves all the same."""
    kept = tmp_path / "home" / "recordings"
    wait_for(at_home, lambda: kept.is_dir() and strikes_on_disk(kept) >= 8)
    at_home.process.kill()
    at_home.process.wait()

    assert len(finished(kept).strikes) >= 8


def _played(folder: Path) -> int:
    """Return how many sessions of a folder hold a stroke."""
    texts = [path.read_text() for path in folder.glob("*.jsonl")]
    return sum("\n[" in text for text in texts)


def wait_for(terminal: Terminal, there: Callable[[], bool]) -> None:
    """Read on until something is so."""
    until(there, lambda: terminal.said[-3000:], lambda: terminal.read(0.1))
