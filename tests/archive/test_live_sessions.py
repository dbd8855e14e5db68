"""Sessions as the real engine leaves them, whatever the player does on the way."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest
from sessions import pattern

from trainer.archive.session_file import open_session
from trainer.archive.summary import session_summary
from trainer.engine.job import Engine, Job
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import SimulatedPlayer
from trainer.practice.events import Command
from trainer.practice.plan import SessionOptions, SteadyPlan

if TYPE_CHECKING:
    from pathlib import Path

ASKED = ("pause", "resume", "toggle", "restart", "restart", "tempo")


@pytest.mark.parametrize("count_in", [0, 1])
@pytest.mark.parametrize("seed", range(4))
def test_any_commands_leave_a_session_that_reads_back(
    tmp_path: Path, seed: int, count_in: int
) -> None:
    """Pauses, restarts and tempos at any moment: the session reads back as it was saved."""
    rng = random.Random(seed)
    turns_between = (1, 20, 90, 300)[seed]
    turns = 0

    def commands() -> list[Command]:
        nonlocal turns
        turns += 1
        if turns > 1500:
            return [Command("quit")]
        if turns % turns_between:
            return []
        return [Command(rng.choice(ASKED), amount=rng.uniform(-30, 30))]

    job = Job(
        pattern=pattern(),
        kit=GENERAL_MIDI,
        plan=SteadyPlan(200.0, None, count_in),
        source=SimulatedPlayer(GENERAL_MIDI, seed),
        click=SilentClick(),
        folder=tmp_path,
        options=SessionOptions(silent_bars=1, silent_of=3),
        simulated=True,
    )
    engine = Engine(job, lambda events: None, commands)
    engine.run()

    assert engine.journal.path
    session = open_session(engine.journal.path)
    assert session.summary == session_summary(session)
    assert len(session.passes) == len(engine.session.passes)
    assert [one.end_s for one in session.passes] == [one.end_s for one in engine.session.passes]
