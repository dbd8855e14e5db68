from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from trainer.actions.json_documents import history_document
from trainer.archive.history import (
    Trend,
    choose_sessions,
    fastest_clean,
    fastest_clean_by_week,
    histories_by_pattern,
    start_of_period,
)
from trainer.archive.session_list import FIGURES, RungConditions, SessionEntry
from trainer.errors import BadInput

NOW = datetime(2026, 3, 31, 12, tzinfo=UTC)


def entry(days_ago: int, **more: object) -> SessionEntry:
    """Return a session of ten minutes; errors fall with time."""
    base = SessionEntry(
        Path(f"{days_ago}.jsonl"),
        NOW - timedelta(days=days_ago),
        "between-runs",
        "Between two runs",
        "Ada",
        True,
        600.0,
        5,
        800,
        (60.0, 100.0 - days_ago),
        ((60.0, True),),
        dict.fromkeys(FIGURES) | {"errors_percent": float(days_ago), "spread_ms": 12.0},
    )
    return replace(base, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "days"), [("30d", 30), ("6w", 42), ("3m", 90), ("1y", 365), ("2026-03-30", 1.5)]
)
def test_since(text: str, days: float) -> None:
    """Lengths of time and dates go back as far as they say."""
    assert start_of_period(text, NOW) == NOW - timedelta(days=days)


@pytest.mark.parametrize("text", ["", "30", "d", "-3d", "2026-13-01", "99999d", "٣d"])
def test_since_refuses_what_it_cannot_read(text: str) -> None:
    """Anything else is bad input that shows how to write it."""
    with pytest.raises(BadInput, match="30d, 6w, or 2026-03-01"):
        start_of_period(text, NOW)


def test_choosing() -> None:
    """Sessions are chosen by part of the pattern's name or title, by player and by time."""
    entries = [entry(3), entry(2, player="Bea"), entry(1, pattern="other", title="Other")]

    assert choose_sessions(entries) == tuple(entries)
    assert choose_sessions(entries, pattern="TWO") == (entries[0], entries[1])
    assert choose_sessions(entries, player="bea") == (entries[1],)
    assert choose_sessions(entries, start=NOW - timedelta(days=2)) == (entries[1], entries[2])


def test_trends_compare_both_ends() -> None:
    """A trend is the median of the first sessions against that of the last, none used twice."""
    (history,) = histories_by_pattern([entry(day) for day in (9, 7, 4, 1, 0)])

    assert history.trends() == (
        Trend("tempo_high", 92.0, 99.5, 5),
        Trend("errors_percent", 8.0, 0.5, 5),
        Trend("spread_ms", 12.0, 12.0, 5),
    )
    assert history.seconds == 3000
    assert history.tempos == (60.0, 100.0)


def test_one_session_has_no_trend() -> None:
    """A single session says nothing about direction."""
    assert histories_by_pattern([entry(1)])[0].trends() == ()


def test_patterns_are_reported_the_one_played_last_at_the_end() -> None:
    """The pattern of the latest session comes last."""
    entries = [entry(9, pattern="b"), entry(5, pattern="a"), entry(1, pattern="b")]

    assert [one.name for one in histories_by_pattern(entries)] == ["a", "b"]


def test_document_has_the_promised_keys() -> None:
    """The JSON holds sessions and ceilings; what is not known is null."""
    reported = history_document([entry(1), entry(0, tempos=None)])

    assert reported["ceilings"] == []
    assert [one["offset_ms"] for one in reported["sessions"]] == [None, None]
    assert reported["sessions"][1]["tempo_high"] is None
    assert reported["sessions"][0]["rungs"] == [{"tempo": 60.0, "clean": True}]
    assert reported["patterns"][0]["sessions"] == 2


TIGHT = RungConditions("tight", 0, "Pad box")


def test_the_fastest_clean_tempo_is_of_sessions_played_as_the_last_one() -> None:
    """Another strictness, input or player says nothing beside it; the first of equals counts."""
    known = [
        entry(9, clean_tempo=96.0, conditions=TIGHT),
        entry(8, clean_tempo=96.0, conditions=TIGHT),
        entry(7, clean_tempo=120.0),
        entry(6, clean_tempo=130.0, conditions=replace(TIGHT, input="keys")),
        entry(5, clean_tempo=99.0, player="Bea", conditions=TIGHT),
        entry(1, clean_tempo=None, conditions=TIGHT),
    ]
    assert fastest_clean(known) == known[0]
    assert fastest_clean(known[:4]) == known[3]
    assert fastest_clean(known[:0]) is None
    assert fastest_clean([entry(1)]) is None


def test_the_fastest_clean_tempo_of_each_week() -> None:
    """The best of each week from its Monday on, None in a week without a clean tempo."""
    known = [
        entry(15, clean_tempo=90.0),
        entry(14, clean_tempo=92.0),
        entry(2, clean_tempo=91.0),
        entry(1, clean_tempo=None),
    ]
    found = fastest_clean_by_week(known, NOW.date(), 3)
    assert [(f"{monday:%m-%d}", tempo) for monday, tempo in found] == [
        ("03-16", 92.0),
        ("03-23", 91.0),
        ("03-30", None),
    ]
    assert fastest_clean_by_week([], NOW.date(), 1) == [(found[-1][0], None)]
