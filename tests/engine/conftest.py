"""A small pattern and a job for it, shared by the tests of the engine."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

import pytest

from trainer.engine.job import Job
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import WORKING_TRAITS, SimulatedPlayer
from trainer.pattern.model import Bar, Limb, Meter, Note, Pattern
from trainer.practice.plan import SteadyPlan

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

BAR = Pattern(
    "sixteenths",
    "Sixteenths from snare to high tom",
    bars=(Bar(Fraction(0), Meter()),),
    notes=tuple(
        Note(Fraction(k, 4), ("snare", "tom1")[k // 8], (Limb.RH, Limb.LH)[k % 2])
        for k in range(16)
    ),
)


@pytest.fixture
def make_job(tmp_path: Path) -> Callable[..., Job]:
    """Make jobs of a simulated player: `passes` at `tempo`, saved in the test's own folder."""

    def make(passes: int | None = 4, tempo: float = 240.0, **more: Any) -> Job:
        given: dict[str, Any] = {
            "pattern": BAR,
            "kit": GENERAL_MIDI,
            "plan": SteadyPlan(tempo, passes),
            "source": SimulatedPlayer(GENERAL_MIDI, 5, WORKING_TRAITS),
            "click": SilentClick(),
            "folder": tmp_path / "recordings",
        }
        return Job(**(given | more))

    return make
