"""Sessions as the real engine leaves them, whatever the player does on the way."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest
from sessions import header, pattern

from trainer.archive import journal, session_file
from trainer.archive.session_file import open_session
from trainer.archive.summary import session_summary
from trainer.engine.job import Engine, Job
from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import SimulatedPlayer
from trainer.practice.click_figure import read_figure
from trainer.practice.events import Command, Notice
from trainer.practice.plan import SessionOptions, SteadyPlan

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.practice.events import Event

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
        options=SessionOptions(click=read_figure({"silent_bars": "1/3"})),
        simulated=True,
    )
    engine = Engine(job, lambda events: None, commands)
    engine.run()

    assert engine.journal.path
    session = open_session(engine.journal.path)
    assert session.summary == session_summary(session)
    assert len(session.passes) == len(engine.session.passes)
    assert [one.end_s for one in session.passes] == [one.end_s for one in engine.session.passes]


@pytest.mark.parametrize("bound", ["lines", "bytes", "strokes due"])
def test_a_session_ends_before_its_file_is_too_long_to_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bound: str
) -> None:
    """The engine stops at the reader's bounds, says so, and what it saved reads back."""
    bounds = {
        "lines": {"MOST_LINES": 300, "SPARE_LINES": 100},
        "bytes": {"LONGEST_FILE": 40_000, "SPARE_BYTES": 30_000},
        "strokes due": {"MOST_TARGETS": 100},
    }[bound]
    for name, value in bounds.items():
        for place in (journal, session_file):
            monkeypatch.setattr(place, name, value, raising=False)
    reported: list[Event] = []
    job = Job(
        pattern=pattern(),
        kit=GENERAL_MIDI,
        plan=SteadyPlan(200.0, None, 0),
        source=SimulatedPlayer(GENERAL_MIDI, 1),
        click=SilentClick(),
        folder=tmp_path,
        simulated=True,
    )
    engine = Engine(job, reported.extend)
    engine.run()

    assert engine.journal.path
    session = open_session(engine.journal.path)
    assert len(session.strikes) > 30
    assert session.summary == session_summary(session)
    assert [one.text for one in reported if isinstance(one, Notice)] == [journal.FULL]


def test_a_flood_leaves_room_for_the_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However much comes in after the file is full, the last line fits and the file is read."""
    for place in (journal, session_file):
        monkeypatch.setattr(place, "MOST_LINES", 100)
    monkeypatch.setattr(journal, "SPARE_LINES", 40)
    flooded = journal.Journal(tmp_path, header())
    for count in range(1000):
        flooded.idle(Strike(count / 1000, 38, 64))
    path = flooded.finish({})

    assert path
    assert flooded.news() == [journal.FULL]
    assert 50 < len(open_session(path).idle) < 100
    assert flooded.full
