"""Plays in an engine process whose source notes down what that process has loaded.

A file of its own, because a spawned process finds the classes of a job by their module.
Usage: look_inside.py RESULT.json FOLDER
"""

from __future__ import annotations

import gc
import json
import sys
from functools import partial
from pathlib import Path

from trainer.engine import process
from trainer.engine.job import Job
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.clean import STRICTNESS_LEVELS, clean_verdict
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import SimulatedPlayer
from trainer.pattern.library import load_pattern
from trainer.practice.events import Finished
from trainer.practice.plan import SteadyPlan


class LookingPlayer(SimulatedPlayer):
    """Looks around in the second pass, when every part of the loop has been at work."""

    reported = ""

    def poll(self, now_s: float) -> list:
        """Play on; note down the state of the process once."""
        made = super().poll(now_s)
        if self.reported and self.truth and (self.truth[-1].target or 0) > 20:
            inside = {
                "modules": sorted(sys.modules),
                "frozen": gc.get_freeze_count(),
                "collecting": gc.isenabled(),
            }
            Path(self.reported).write_text(json.dumps(inside))
            self.reported = ""
        return made


def main() -> None:
    """Play, and listen to the end."""
    player = LookingPlayer(GENERAL_MIDI)
    player.reported = sys.argv[1]
    job = Job(
        pattern=load_pattern("paradiddle-travelling"),
        kit=GENERAL_MIDI,
        plan=SteadyPlan(300.0, 3),
        source=player,
        click=SilentClick(),
        folder=Path(sys.argv[2]),
        check=partial(clean_verdict, allowed=STRICTNESS_LEVELS["solid"]),
    )
    handle = process.start_engine(job)
    while not any(isinstance(one, Finished) for one in handle.poll()):
        handle.wait(0.5)
    handle.close()


if __name__ == "__main__":
    main()
