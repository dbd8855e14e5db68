"""How long ten thousand sessions take to list: the first look, the second, and the bare folder.

Run: python -m pytest -s tests/bench/bench_history.py   (BENCH_SESSIONS=2000 for a shorter run)
"""

from __future__ import annotations

import os
import time
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest
from sessions import STARTED, saved

from trainer import cli

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

pytestmark = pytest.mark.bench

SESSIONS = int(os.environ.get("BENCH_SESSIONS", "10000"))


def fill(folder: Path) -> None:
    """Put many sessions into a folder, one every six hours."""
    whole = saved(folder).read_bytes()
    started = STARTED.isoformat().encode()
    for number in range(1, SESSIONS):
        moment = STARTED + timedelta(hours=6 * number)
        path = folder / f"{moment:%Y%m%d-%H%M%S}-between-runs.jsonl"
        path.write_bytes(whole.replace(started, moment.isoformat().encode()))


def timed(name: str, do: Callable[[], object]) -> float:
    """Do something and tell how long it took, in seconds."""
    start = time.perf_counter()
    do()
    seconds = time.perf_counter() - start
    print(f"{name:<34} {seconds:6.2f} s")
    return seconds


def look(folder: Path) -> None:
    """List names and states of a folder, as little as any history can do."""
    with os.scandir(folder) as found:
        assert len([one.stat() for one in found]) == SESSIONS


def test_listing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The second look at a folder takes a small part of the first."""
    folder = tmp_path / "recordings"
    fill(folder)
    args = ["history", "--recordings", str(folder)]
    with capsys.disabled():
        print(f"\n{SESSIONS} sessions")
        timed("names and states only", lambda: look(folder))
    first, second = (timed_run(args, capsys) for _ in range(2))

    assert second < first / 2


def timed_run(args: list[str], capsys: pytest.CaptureFixture[str]) -> float:
    """Run the command, keep its text away, and tell how long it took."""
    start = time.perf_counter()
    assert cli.run(args) == 0
    seconds = time.perf_counter() - start
    capsys.readouterr()
    with capsys.disabled():
        print(f"trainer history {seconds:6.2f} s")
    return seconds
