"""Sessions as the real engine leaves them, whatever the player does on the way."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import pytest
from sessions import header, pattern

from trainer.archive import journal, long_journal, session_file
from trainer.archive.recovery import recover
from trainer.archive.session_file import open_session
from trainer.archive.summary import session_summary
from trainer.engine.job import Engine, Job
from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import SimulatedPlayer
from trainer.practice.click_figure import read_figure
from trainer.practice.course import Pass, pass_end
from trainer.practice.events import Command, Finished, Notice
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

    if engine.journal.unplayed:  # interrupted so often that no stroke was ever due
        assert turns_between == 1
        assert engine.journal.path is None
        assert not [*tmp_path.iterdir()]
        return
    assert engine.journal.path
    session = open_session(engine.journal.path)
    assert session.summary == session_summary(session)
    assert len(session.passes) == len(engine.session.passes)
    assert [one.end_s for one in session.passes] == [one.end_s for one in engine.session.passes]


PASSES = 120
BOUNDS = {
    "lines": {"MOST_LINES": 300, "SPARE_LINES": 100},
    "bytes": {"LONGEST_FILE": 60_000, "SPARE_BYTES": 15_000},
    "strokes due": {"MOST_TARGETS": 100},
}


def _small_files(monkeypatch: pytest.MonkeyPatch, bound: str) -> None:
    for name, value in BOUNDS[bound].items():
        for place in (journal, session_file):
            monkeypatch.setattr(place, name, value, raising=False)


def _engine(folder: Path, passes: int, reported: list[Event]) -> Engine:
    job = Job(
        pattern=pattern(),
        kit=GENERAL_MIDI,
        plan=SteadyPlan(200.0, passes, 0),
        source=SimulatedPlayer(GENERAL_MIDI, 1),
        click=SilentClick(),
        folder=folder,
        simulated=True,
    )
    return Engine(job, reported.extend)


@pytest.mark.parametrize("bound", BOUNDS)
def test_a_full_file_goes_on_in_another(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bound: str
) -> None:
    """Every part is a session with its own summary, and together they are what was played.

    Nothing is lost or written twice where one file follows the other. There the judge knows the
    one side only, which may turn the outcome of a stroke.
    """
    whole = tmp_path / "whole"
    _engine(whole, PASSES, []).run()
    (expected,) = (open_session(path) for path in whole.glob("*.jsonl"))
    _small_files(monkeypatch, bound)
    parts = tmp_path / "parts"
    reported: list[Event] = []
    _engine(parts, PASSES, reported).run()

    paths = sorted(parts.glob("*.jsonl"), key=lambda path: open_session(path).header.started)
    sessions = [open_session(path) for path in paths]
    assert len(sessions) > 2
    assert [one.summary == session_summary(one) for one in sessions] == [True] * len(sessions)
    assert not any(one.recovered or one.torn for one in sessions)
    strikes = [strike for one in sessions for strike in one.strikes]
    assert strikes == list(expected.strikes)
    starts = [round(part.start_s, 6) for one in sessions for part in one.passes]
    assert starts == [round(part.start_s, 6) for part in expected.passes]
    counts = [one.summary["counts"] for one in sessions if one.summary]
    assert expected.summary
    for name in ("targets", "played", "missed", "hits", "extra"):
        off = sum(one[name] for one in counts) - expected.summary["counts"][name]
        seams = 0 if name in ("targets", "hits") else len(sessions) - 1
        assert abs(off) <= seams, name
    said = [one.text for one in reported if isinstance(one, Notice)]
    assert said[0] == long_journal.CONTINUES
    assert journal.FULL not in said
    finished = next(one for one in reported if isinstance(one, Finished))
    assert finished.path == str(paths[-1])


def test_a_part_that_gets_no_summary_is_finished_by_the_next_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed before the earlier parts have theirs, they are sessions that were cut off."""
    _small_files(monkeypatch, "lines")
    monkeypatch.setattr(long_journal.LongJournal, "finish_earlier", lambda self: None)
    _engine(tmp_path, 30, []).run()
    count = len([*tmp_path.glob("*.jsonl")])

    assert count > 1
    assert len(recover(tmp_path)) == count - 1
    assert all(open_session(path).summary for path in tmp_path.glob("*.jsonl"))


def test_a_cut_reaches_the_file_of_its_pass(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pass that is cut after the next one began is cut in its own file, strokes too."""
    written = long_journal.LongJournal(tmp_path, header())
    monkeypatch.setattr(journal.Journal, "half_full", True)
    length = pass_end(pattern(), Pass(0, 120.0, 0.0))
    for index in range(3):
        written.pass_started(Pass(index, 120.0, index * length))
        written.strike(Strike(index * length - 0.1, 38, 70 + index))
        written.strike(Strike(index * length, 38, 80 + index))
    written.cut(1, 1.5 * length)
    written.cut(0, 0.5 * length)  # its file is closed: nothing is written anywhere
    written.finish({})
    written.finish_earlier()

    parts = [open_session(path) for path in sorted(tmp_path.glob("*.jsonl"))]
    parts.sort(key=lambda one: one.header.started)
    assert [[one.index for one in part.passes] for part in parts] == [[0]] * 3
    assert [part.passes[0].end_s for part in parts] == [None, 1.5 * length, None]
    velocities = [[one.velocity for one in part.strikes] for part in parts]
    assert velocities == [[70, 80, 71], [81, 72], [82]]


def test_what_has_to_end_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After the longest time a session ends, in however many files it is; all are read."""
    _small_files(monkeypatch, "lines")
    monkeypatch.setattr(journal, "LONGEST_S", 60.0)
    monkeypatch.setattr(journal, "SPARE_S", 30.0)
    reported: list[Event] = []
    _engine(tmp_path, 1000, reported).run()

    assert journal.FULL in [one.text for one in reported if isinstance(one, Notice)]
    assert all(open_session(path).summary for path in tmp_path.glob("*.jsonl"))


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
