"""What the engine costs: from reading a stroke to its outcome, lateness of clicks, share of a core.

A simulated player strikes 20 times a second in real time, everything is judged and written down.
Beside it, in the same run, a bare loop that only wakes every millisecond. Runs in one process, with
garbage collection frozen as in the engine's own.

Run: python -m pytest -s tests/bench/bench_engine.py   (BENCH_SECONDS=60 for a longer run)
"""

from __future__ import annotations

import gc
import os
import platform
import time
from functools import partial
from typing import TYPE_CHECKING

import pytest

from trainer.engine.clock import POLL_S
from trainer.engine.job import Engine, Job
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.clean import STRICTNESS_LEVELS, clean_verdict
from trainer.midi.simulated_player import SimulatedPlayer
from trainer.pattern.library import load_pattern
from trainer.practice.course import seconds_per_quarter
from trainer.practice.events import HitJudged
from trainer.practice.plan import SteadyPlan

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.bench

SECONDS = float(os.environ.get("BENCH_SECONDS", "10"))
STROKES_A_SECOND = 20.0


class WatchedPlayer(SimulatedPlayer):
    """Notes when a stroke was handed to the loop."""

    read_s = 0.0

    def poll(self, now_s):
        """Hand over, and look at the clock."""
        made = super().poll(now_s)
        if made:
            self.read_s = time.perf_counter()
        return made


class TimedClick:
    """A click that makes no sound and tells when it was asked to."""

    name, lead_s = "timed", 0.0

    def __init__(self):
        self.late = []

    def open(self, zero_s):
        """Remember second 0."""
        self.zero_s = zero_s

    def send(self, kind, due_s):
        """Look at the clock."""
        sent_s = time.perf_counter() - self.zero_s
        self.late.append(sent_s - due_s)
        return sent_s

    def quality(self):
        """Nothing to tell."""
        return {}

    def close(self):
        """Nothing to close."""


def test_engine(tmp_path: Path) -> None:
    """A stroke is judged in far less than a millisecond, and the engine leaves the core free."""
    pattern = load_pattern("fives-and-threes")
    tempo = 60 * STROKES_A_SECOND / 4
    passes = max(1, round(SECONDS / (float(pattern.length) * seconds_per_quarter(pattern, tempo))))
    player, click = WatchedPlayer(GENERAL_MIDI), TimedClick()
    delays: list[float] = []

    def show(events):
        if any(isinstance(one, HitJudged) and not one.final for one in events):
            delays.append(time.perf_counter() - player.read_s)

    job = Job(
        pattern=pattern,
        kit=GENERAL_MIDI,
        plan=SteadyPlan(tempo, passes),
        source=player,
        click=click,
        folder=tmp_path,
        check=partial(clean_verdict, allowed=STRICTNESS_LEVELS["solid"]),
    )
    engine = Engine(job, show)
    gc.collect()
    gc.freeze()
    gc.disable()
    try:
        share, seconds = _share_of_a_core(engine.loop.run)
        bare, _ = _share_of_a_core(lambda: _bare_loop(seconds))
    finally:
        gc.enable()
        gc.unfreeze()
    engine.finish()

    print(f"\n{platform.machine()}, Python {platform.python_version()}, {seconds:.0f} s")
    print(_row("stroke read to outcome reported", delays))
    print(_row("click after it was due", click.late))
    print(f"share of a core: engine {share:.1%}, bare loop {bare:.1%}")
    assert len(delays) > 100
    assert _part(delays, 0.5) < 1 / STROKES_A_SECOND / 10  # far from holding up the next stroke
    assert share < 10 * bare + 0.1


def _share_of_a_core(run) -> tuple[float, float]:
    began, used = time.perf_counter(), time.process_time()
    run()
    seconds = time.perf_counter() - began
    return (time.process_time() - used) / seconds, seconds


def _bare_loop(seconds: float) -> None:
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        time.sleep(POLL_S)


def _part(values: list[float], part: float) -> float:
    return sorted(values)[min(len(values) - 1, int(part * len(values)))]


def _row(what: str, values: list[float]) -> str:
    median, most, worst = (_part(values, part) * 1e6 for part in (0.5, 0.99, 1.0))
    return f"{what:<30} median {median:6.0f} us, p99 {most:6.0f} us, worst {worst:6.0f} us"
