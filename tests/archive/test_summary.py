from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from sessions import header, strikes

from trainer.archive.journal import Journal
from trainer.archive.session import SentClick, Session, SessionMark
from trainer.archive.session_file import open_session
from trainer.archive.summary import (
    judge_session,
    session_summary,
    silent_stretches,
    summary_differences,
)
from trainer.kit.hits import Controllers, Pedal, Strike
from trainer.kit.model import Kit
from trainer.midi.hit_source import Control
from trainer.practice.course import Pass

if TYPE_CHECKING:
    from pathlib import Path


def session(silent: list[float], sounding: list[float]) -> Session:
    """Return a session of one bar at 120 BPM from second 2, with silent and sounding beats."""
    return Session(
        header(),
        (Pass(0, 120.0, 2.0),),
        tuple(strikes(2.0)),
        clicks=tuple(SentClick(time_s, 0.0) for time_s in sounding),
        marks=tuple(SessionMark("silent", time_s) for time_s in silent),
    )


def test_no_silent_beat_no_stretch() -> None:
    """A click that sounds throughout leaves no stretch."""
    assert silent_stretches(session([], [2.0, 2.5])) == []


def test_stretch_ends_at_the_next_click() -> None:
    """Silent beats join to one stretch, up to the next click that sounds."""
    assert silent_stretches(session([2.5, 3.0], [2.0, 3.5])) == [(2.5, 3.5)]


def test_last_stretch_ends_with_the_pass() -> None:
    """A stretch after which no click comes ends where the last pass does."""
    assert silent_stretches(session([2.0, 3.0, 3.5], [2.5])) == [(2.0, 2.5), (3.0, 4.0)]


def test_differences_name_what_both_have() -> None:
    """Only values that both summaries hold can differ, each named by its place."""
    saved = {"a": {"b": 1, "c": [1, 2]}, "only": 3}
    fresh = {"a": {"b": 2, "c": [1, 2], "d": 4}}

    assert list(summary_differences(saved, fresh)) == ["a.b"]


def test_summary_is_what_a_file_holds() -> None:
    """A summary is the same before and after a trip through a file, so it can be compared."""
    one = session([], [])

    assert list(summary_differences(session_summary(one), session_summary(one))) == []
    assert session_summary(one)["counts"]["played"] == 16


def test_the_pedal_opens_the_hi_hat_of_a_saved_session(tmp_path: Path) -> None:
    """Where the pedal alone shows it, the file's own pedal lines make closed strokes open ones."""
    kit = Kit(controllers=Controllers(Pedal(4, 127, 0, zones=True)))
    journal = Journal(tmp_path, replace(header(), kit=kit))
    journal.pass_started(Pass(0, 120.0, 2.0))
    for time_s, value in ((2.0, 127), (2.2, 10)):
        journal.control(Control(time_s, "control", 4, value))
        journal.strike(Strike(time_s + 0.001, 42, 90))
    path = journal.finish({})
    assert path

    assert [hit.zone for hit in judge_session(open_session(path)).hits] == ["closed", "open"]
