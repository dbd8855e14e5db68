"""The engine in a process of its own: it plays, it saves, and it ends when it should."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from patience import LIMIT_S, until
from terminals import finished, wait_for_strikes

import trainer
from trainer.archive.session_file import open_session
from trainer.engine import process
from trainer.errors import BadInput
from trainer.midi.click import ClickOut
from trainer.practice.events import Command, Event, Finished, PassStarted

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from trainer.archive.session import Session
    from trainer.engine.job import Job
    from trainer.engine.process import EngineHandle

posix = pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix systems")


@pytest.fixture
def start(make_job: Callable[..., Job]) -> Iterator[Callable[..., EngineHandle]]:
    """Start engines; all are ended with the test."""
    handles: list[EngineHandle] = []

    def make(**more: object) -> EngineHandle:
        handles.append(process.start_engine(make_job(**more)))
        return handles[-1]

    yield make
    for handle in handles:
        handle.close()


def _events(handle: EngineHandle, kind: type) -> list[Event]:
    """Collect events up to one of a kind."""
    found: list[Event] = []

    def listen() -> None:
        handle.wait(0.2)
        found.extend(handle.poll())

    until(lambda: any(isinstance(one, kind) for one in found), kind.__name__, listen)
    return found


def test_it_plays_and_ends_by_itself(start: Callable[..., EngineHandle]) -> None:
    """After the last pass the session is saved, reported, and nothing more comes."""
    handle = start(passes=2)
    finished = _events(handle, Finished)[-1]

    assert finished.summary["passes"] == 2
    assert open_session(Path(finished.path)).summary == finished.summary
    handle.process.join(LIMIT_S)
    assert handle.process.exitcode == 0
    with pytest.raises(EOFError):
        handle.poll()


def test_a_port_that_is_not_there_is_reported_before_anything_starts(
    start: Callable[..., EngineHandle], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What goes wrong while opening is raised in the caller, in the same words."""
    monkeypatch.setenv("TRAINER_MIDI_API", "none of them")
    with pytest.raises(BadInput, match="none of them"):
        start(click=ClickOut("somewhere"))


def test_closing_the_handle_ends_and_saves(
    start: Callable[..., EngineHandle], tmp_path: Path
) -> None:
    """A screen that goes away in the middle leaves a finished session behind."""
    folder = tmp_path / "recordings"
    handle = start(passes=None)
    wait_for_strikes(folder, 4)
    handle.close()

    assert handle.process.exitcode == 0
    session = _only_session(folder)
    assert len(session.strikes) >= 4
    assert session.summary is not None


@posix
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_a_signal_ends_and_saves(
    start: Callable[..., EngineHandle], tmp_path: Path, name: str
) -> None:
    """Asked to end, even twice, the engine finishes the session first and tells of it then."""
    folder = tmp_path / "recordings"
    handle = start(passes=None)
    wait_for_strikes(folder, 4)
    os.kill(handle.process.pid, getattr(signal, name))
    os.kill(handle.process.pid, getattr(signal, name))

    assert isinstance(_events(handle, Finished)[-1], Finished)
    session = _only_session(folder)
    assert len(session.strikes) >= 4
    assert session.summary is not None


@posix
def test_it_outlives_a_killed_screen_and_saves(tmp_path: Path) -> None:
    """`kill -9` of the screen's process: the session is finished before its pass is over."""
    folder = tmp_path / "recordings"
    command = ["play", "fives-and-threes", "--port", "simulated", "--plain", "--tempo", "200"]
    screen = subprocess.Popen(
        [sys.executable, "-m", "trainer", *command, "--recordings", str(folder)],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert screen.stdout
    for line in screen.stdout:
        if line.startswith("Bar 1"):
            break
    screen.kill()
    screen.wait()

    session = finished(folder)
    assert len(session.strikes) > 12
    assert len(session.passes) == 1
    assert not session.recovered


def _only_session(folder: Path) -> Session:
    """Return the only session of a folder as it is now."""
    (path,) = folder.glob("*.jsonl")
    return open_session(path)


def test_what_the_screen_asks_is_done(start: Callable[..., EngineHandle]) -> None:
    """Commands reach the session; a quit ends it."""
    handle = start(passes=None)
    _events(handle, PassStarted)
    handle.send(Command("tempo", 10))
    handle.send(Command("quit"))
    names = [type(one).__name__ for one in _events(handle, Finished)]

    assert "TempoChosen" in names
    assert names[-1] == "Finished"


def test_a_screen_that_does_not_listen_loses_nothing(
    start: Callable[..., EngineHandle], tmp_path: Path
) -> None:
    """Events wait while the screen hangs; the session is played and saved all the same."""
    handle = start(passes=4, tempo=400.0)
    assert finished(tmp_path / "recordings").summary
    events = _events(handle, Finished)

    started = [one for one in events if isinstance(one, PassStarted)]
    assert [one.pass_index for one in started] == list(range(4))


def test_the_engine_loads_nothing_heavy_while_playing(tmp_path: Path) -> None:
    """Neither screen nor arrays nor the MIDI file library are loaded in the playing process."""
    reported = tmp_path / "modules.json"
    script = Path(__file__).with_name("look_inside.py")
    here = os.environ | {"PYTHONPATH": str(Path(trainer.__file__).parents[1])}
    command = [sys.executable, str(script), str(reported), str(tmp_path)]
    subprocess.run(command, check=True, timeout=LIMIT_S, env=here)

    inside = json.loads(reported.read_text())
    assert inside["frozen"] > 1000
    assert not inside["collecting"]
    loaded = {name.partition(".")[0] for name in inside["modules"]}
    assert loaded.isdisjoint({"textual", "rich", "numpy", "mido", "asyncio", "scipy"})
