"""A long evening in simulated time, through the real loop: memory, time a stroke, and the file.

Ten strokes a second for BENCH_HOURS (default a quarter; 8 take some minutes). Prints memory and
the time the loop spends on a stroke in the first and in the last tenth.

Run: BENCH_HOURS=8 python -m pytest -s tests/bench/bench_long.py
"""

from __future__ import annotations

import gc
import os
import time
from dataclasses import replace
from pathlib import Path

import pytest

from trainer.archive.session_file import open_session
from trainer.engine.job import Engine, Job
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import WORKING_TRAITS, SimulatedPlayer
from trainer.pattern.library import load_pattern
from trainer.practice.events import Finished
from trainer.practice.plan import SteadyPlan

pytestmark = pytest.mark.bench

HOURS = float(os.environ.get("BENCH_HOURS", "0.25"))
TENTHS = 10


class Forgetful:
    """Takes the simulated player's truth and keeps none, so that only the program is measured."""

    def append(self, one):
        """Forget it."""


def _resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def test_a_long_evening(tmp_path: Path) -> None:
    """Hours later the loop is as quick as at the start, memory has hardly grown, the file reads."""
    # One who tired for hours would hit little, and only finding that out would be measured.
    player = SimulatedPlayer(GENERAL_MIDI, 1, replace(WORKING_TRAITS, tiring=0.0))
    player.truth = Forgetful()
    reported = []
    engine = Engine(
        Job(
            pattern=load_pattern("fives-and-threes"),
            kit=GENERAL_MIDI,
            plan=SteadyPlan(150.0),
            source=player,
            click=SilentClick(),
            folder=tmp_path,
            simulated=True,
        ),
        lambda events: reported.extend(one for one in events if isinstance(one, Finished)),
    )
    loop, seconds = engine.loop, HOURS * 3600
    gc.collect()
    gc.disable()
    loop.start()
    spent, memory = [], []
    for tenth in range(1, TENTHS + 1):
        began = time.process_time()
        while loop.clock.now() < seconds * tenth / TENTHS:
            loop.turn()
        spent.append(time.process_time() - began)
        memory.append(_resident_mb())
    gc.enable()
    engine.session.quit(loop.clock.now())
    began = time.process_time()
    engine.finish()
    summing_s = time.process_time() - began
    session = open_session(Path(reported[0].path))

    strokes = len(session.strikes)
    print(
        f"\n{HOURS:g} hours, {strokes} strokes, file {Path(reported[0].path).stat().st_size} bytes"
    )
    print(f"a stroke takes {spent[0] / strokes * TENTHS * 1e6:.0f} us first, ", end="")
    print(f"{spent[-1] / strokes * TENTHS * 1e6:.0f} us last; the summary {summing_s:.1f} s")
    print("memory in MB after each tenth: " + " ".join(f"{one:.0f}" for one in memory))
    grown_bytes = (memory[-1] - memory[0]) * 2**20 / (strokes * (1 - 1 / TENTHS))
    print(f"grown by {grown_bytes:.0f} bytes a stroke")
    assert strokes > 9.5 * seconds
    assert spent[-1] < 2 * spent[0]
    assert grown_bytes < 500
