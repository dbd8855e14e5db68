from __future__ import annotations

from sessions import header, strikes

from trainer.archive.session import Click, Mark, Session
from trainer.archive.summary import differences, silent_stretches, summarise
from trainer.practice.course import Pass


def session(silent: list[float], sounding: list[float]) -> Session:
    """Return a session of one bar at 120 BPM from second 2, with silent and sounding beats."""
    return Session(
        header(),
        (Pass(0, 120.0, 2.0),),
        tuple(strikes(2.0)),
        clicks=tuple(Click(time_s, 0.0) for time_s in sounding),
        marks=tuple(Mark("silent", time_s) for time_s in silent),
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

    assert list(differences(saved, fresh)) == ["a.b"]


def test_summary_is_what_a_file_holds() -> None:
    """A summary is the same before and after a trip through a file, so it can be compared."""
    one = session([], [])

    assert list(differences(summarise(one), summarise(one))) == []
    assert summarise(one)["counts"]["played"] == 16
