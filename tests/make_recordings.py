"""Makes the example sessions in `recordings/` again, in simulated time, through the real engine.

Run it from the top folder after a change that moves numbers: python -m tests.make_recordings
"""

from __future__ import annotations

import tempfile
from functools import partial
from pathlib import Path

from trainer.engine.job import Engine, Job
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.clean import DEFAULT_TOLERANCE, clean_verdict, rung_verdict
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import SimulatedPlayer
from trainer.pattern.library import load_pattern
from trainer.practice.ladder import Ladder
from trainer.practice.ladder_plan import LadderPlan, LadderTimes
from trainer.practice.plan import SteadyPlan, TempoPlan

TOP = Path(__file__).resolve().parent.parent


def make(name: str, pattern: str, seed: int, plan: TempoPlan, folder: Path) -> None:
    """Play one session in simulated time and put it into `recordings/` under a plain name."""
    job = Job(
        pattern=load_pattern(pattern),
        kit=GENERAL_MIDI,
        plan=plan,
        source=SimulatedPlayer(GENERAL_MIDI, seed),
        click=SilentClick(),
        folder=folder,
        check=partial(clean_verdict, allowed=DEFAULT_TOLERANCE),
        player="between two runs",
        tolerance=DEFAULT_TOLERANCE.to_dict(),
        course={"seed": seed},
        simulated=True,
    )
    engine = Engine(job, show=lambda events: None)
    engine.run()
    assert engine.journal.path
    engine.journal.path.replace(TOP / "recordings" / name)


def main() -> None:
    """Make all examples."""
    judge = partial(rung_verdict, allowed=DEFAULT_TOLERANCE)
    clock = LadderTimes(minutes=4)
    ladder = LadderPlan(load_pattern("fives-and-threes"), Ladder(start=72, step=6), judge, 1, clock)
    with tempfile.TemporaryDirectory(dir=TOP / "recordings") as name:
        folder = Path(name)
        make("example-orders.jsonl", "fives-and-threes", 1, SteadyPlan(88, 4), folder)
        make("example-odd-numbers.jsonl", "climb-odd-numbers-feet", 2, SteadyPlan(60, 4), folder)
        make("example-ladder.jsonl", "fives-and-threes", 3, ladder, folder)


if __name__ == "__main__":
    main()
