"""Clocks that jump and programs that are held up: offsets stay right, or nothing is judged."""

from __future__ import annotations

import ast
import os
import signal
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from terminals import finished, wait_for_strikes

import trainer
from trainer.archive.summary import judge_session
from trainer.engine import clock as clock_module
from trainer.engine import job as job_module
from trainer.engine import process
from trainer.engine.clock import RealClock
from trainer.engine.job import Engine, Job
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.simulated_player import EXACT_TRAITS, SimulatedPlayer

if TYPE_CHECKING:
    from collections.abc import Callable

WALL = {
    "time.time",
    "time.time_ns",
    "datetime.now",
    "datetime.today",
    "datetime.utcnow",
    "date.today",
}
MAY_READ_IT = {
    "engine/job.py": "the header's date",
    "archive/recovery.py": "how old a file is, where a disk knows no locks",
}
"""Files loaded while playing that look at the wall clock, and for what."""


@pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix systems")
def test_held_up_for_five_seconds(make_job: Callable[..., Job], tmp_path: Path) -> None:
    """Stopped for five seconds, the engine marks them, asks for nothing in them, and goes on.

    The pass is cut where it was, and begun again. A busy machine may add stalls of its own.
    """
    folder = tmp_path / "recordings"
    handle = process.start_engine(
        make_job(passes=2, tempo=120.0, source=SimulatedPlayer(GENERAL_MIDI, 5, EXACT_TRAITS))
    )
    try:
        wait_for_strikes(folder, 4)
        before_s = time.monotonic()
        os.kill(handle.process.pid, signal.SIGSTOP)
        os.waitpid(handle.process.pid, os.WUNTRACED)
        stopped_s = time.monotonic()
        time.sleep(5.0)
        held_s = time.monotonic() - stopped_s
        os.kill(handle.process.pid, signal.SIGCONT)
        session = finished(folder)
        whole_s = time.monotonic() - before_s
    finally:
        handle.close()
    long = [mark for mark in session.marks if mark.kind == "stall" and mark.seconds >= held_s]

    assert len(long) == 1
    assert long[0].seconds < whole_s
    gap = (long[0].time_s - long[0].seconds, long[0].time_s)
    cut = [one for one in session.passes if one.end_s is not None]
    assert any(one.start_s < gap[0] for one in cut)
    assert len(session.passes) - len(cut) == 2
    take = judge_session(session)
    assert not [target for target in take.targets if gap[0] < target.time_s < gap[1]]
    assert not [strike for strike in session.strikes if gap[0] < strike.time_s < gap[1]]
    assert session.summary["counts"]["missed"] == 0
    offsets = [
        take.hits[k].time_s - t.time_s
        for k, t in zip(take.target_hit, take.targets, strict=False)
        if k is not None
    ]
    # The player is exact: anything that is left the stall did to the times.
    assert offsets == pytest.approx([0.0] * len(offsets), abs=1e-6)
    assert offsets


def test_a_machine_that_slept_is_a_stall(monkeypatch: pytest.MonkeyPatch) -> None:
    """Time asleep that the counter leaves out is reported as lost, once."""
    asleep = [100.0]
    monkeypatch.setattr(clock_module, "_asleep_s", lambda: asleep[0])
    clock = RealClock()
    clock.wait_until(0.0)
    clock.lost_s()
    asleep[0] += 3600.0
    clock.wait_until(0.0)

    awake_s = clock.now()
    assert 3600.0 <= clock.lost_s() <= 3600.0 + awake_s
    clock.wait_until(0.0)
    assert clock.lost_s() < 3600.0


class Jumping(datetime):
    """A wall clock that is set back an hour at every look."""

    looks = 0

    @classmethod
    def now(cls, tz: Any = None) -> datetime:
        cls.looks += 1
        return datetime(2026, 3, 1, 18, 0, tzinfo=UTC) - timedelta(hours=cls.looks)


def test_a_wall_clock_set_back_changes_the_header_alone(
    make_job: Callable[..., Job], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The same evening under a wall clock that jumps gives the same file below the header."""
    kept = []
    for name in ("steady", "jumping"):
        if name == "jumping":
            monkeypatch.setattr(job_module, "datetime", Jumping)
            monkeypatch.setattr(time, "time", lambda: 0.0)
        job = make_job(
            passes=3,
            source=SimulatedPlayer(GENERAL_MIDI, 7),
            folder=tmp_path / name,
            simulated=True,
        )
        Engine(job, lambda events: None).run()
        (path,) = (tmp_path / name).glob("*.jsonl")
        kept.append(path.read_bytes().partition(b"\n")[2])

    assert Jumping.looks == 1
    assert kept[0] == kept[1]
    assert len(kept[0].splitlines()) > 48


def test_nothing_that_plays_reads_the_wall_clock() -> None:
    """In the packages the engine loads, only the header and recovery ask what time of day it is."""
    root = Path(trainer.__file__).parent
    folders = ("engine", "practice", "kit", "midi", "archive", "pattern")
    found = {}
    for path in (path for folder in folders for path in (root / folder).glob("*.py")):
        text = path.read_text()
        called = {
            ast.unparse(node)
            for node in ast.walk(ast.parse(text))
            if isinstance(node, ast.Attribute)
        }
        if called & WALL or "from time import time" in text:
            found[f"{path.parent.name}/{path.name}"] = called & WALL

    assert set(found) <= set(MAY_READ_IT), found
    assert "engine/job.py" in found
