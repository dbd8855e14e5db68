"""The whole program killed in the middle of a session, engine and screen together."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from patience import until
from terminals import Terminal

from trainer import cli
from trainer.archive.session_file import open_session

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import Sender

AT_MOST_IN_50_MS = 1
"""Strokes that may be lost: sixteenths at 180 BPM are 83 ms apart."""


def start(folder: Path) -> subprocess.Popen[str]:
    """Start the demo in real time, a line for every stroke, as a process group of its own."""
    args = ["demo", "--plain", "--every-hit", "--tempo", "180", "--recordings", str(folder)]
    return subprocess.Popen(
        [sys.executable, "-u", "-m", "trainer", *args],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        start_new_session=True,
        cwd=Path(__file__).resolve().parents[2],
    )


@pytest.mark.parametrize("seed", range(2))
def test_all_that_was_heard_is_on_disk(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], seed: int
) -> None:
    """After kill -9 of everything no stroke is lost, and the next start finishes the session."""
    process = start(tmp_path)
    assert process.stdout
    reported: list[str] = []
    while sum(map(is_stroke, reported)) < 6:
        reported.append(process.stdout.readline())
        assert reported[-1]
    time.sleep(random.Random(seed).uniform(0.3, 2.0))
    os.killpg(process.pid, signal.SIGKILL)
    reported += process.stdout.read().splitlines()
    process.wait()
    (path,) = tmp_path.glob("*.jsonl")
    before = open_session(path)

    asked = ["history", "--simulated", "--recordings", str(tmp_path), "--json"]
    assert cli.run(asked) == 0

    out, err = capsys.readouterr()
    assert "was cut off. It is finished now" in err
    (session,) = json.loads(out)["sessions"]
    assert session["finished"]
    assert session["strikes"] == len(before.strikes) > 5
    assert len(before.strikes) >= sum(map(is_stroke, reported)) - AT_MOST_IN_50_MS
    summary = open_session(path).summary
    assert summary
    counts = summary["counts"]
    assert counts["missed"] <= counts["targets"] / 5


def is_stroke(line: str) -> bool:
    """Whether a line tells of a stroke that was played."""
    return line.startswith("  ") and "missed" not in line


RATE, LOST_S = 2000, 0.05

ENOUGH = 0.8
"""The share of a processor somebody must be given, for 50 ms to say anything about the program."""


def share_of_processor() -> float:
    """Return how much of a processor a busy process is given just now."""
    end, spent = time.perf_counter() + 0.5, time.process_time()
    while time.perf_counter() < end:
        pass
    return (time.process_time() - spent) / 0.5


@pytest.mark.alone
@pytest.mark.jack
@pytest.mark.parametrize("seed", range(2))
def test_a_flood_is_on_disk(
    sender: Callable[[str], Sender], tmp_path: Path, capsys: pytest.CaptureFixture[str], seed: int
) -> None:
    """After kill -9 in a flood of 2,000 strikes a second all but the last 50 ms are on disk.

    Where the machine held even the sender up, as much time more may be lost.
    """
    if (share := share_of_processor()) < ENOUGH:
        pytest.skip(f"a busy machine gives {share:.0%} of a processor, real time is not tested")
    rng = random.Random(seed)
    kit = sender("Wild Kit")
    struck = [(rng.randrange(35, 83), rng.randrange(1, 128)) for _ in range(2 * RATE)]
    asked = ("play", "fives-and-threes", "--port", "wild kit", "--tempo", "200")
    one = Terminal(*asked, "--recordings", str(tmp_path))
    try:
        # The file is made once the port is open.
        until(lambda: list(tmp_path.glob("*.jsonl")), "a session", lambda: one.read(0.2))
        kit.start([(n / RATE, [0x99, *strike]) for n, strike in enumerate(struck)])
        one.read(rng.uniform(0.8, 1.6))
        killed_s = time.perf_counter()
        os.killpg(one.process.pid, signal.SIGKILL)
        sent = kit.sent()
        held_up_s = max(at - sent[0] - n / RATE for n, at in enumerate(sent))
    finally:
        one.end()
    (path,) = tmp_path.glob("*.jsonl")
    session = open_session(path)
    kept = sorted([*session.strikes, *session.idle], key=lambda strike: strike.time_s)

    assert len(kept) >= sum(at < killed_s - LOST_S - held_up_s for at in sent) > 0.5 * RATE
    assert [(strike.note, strike.velocity) for strike in kept] == struck[: len(kept)]
    assert cli.run(["history", "--recordings", str(tmp_path), "--json"]) == 0
    assert "was cut off. It is finished now" in capsys.readouterr().err
