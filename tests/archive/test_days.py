"""The calendar: minutes by day, weeks that begin on Monday."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from sessions import STARTED

from trainer.archive.history import calendar_weeks, minutes_by_day, monday_of
from trainer.archive.session_list import SessionEntry

if TYPE_CHECKING:
    from datetime import datetime


def _entry(started: datetime, seconds: float) -> SessionEntry:
    return SessionEntry(Path("x"), started, "p", "P", "", True, seconds, 1, 1, None, (), {})


def test_sessions_of_a_day_add_up() -> None:
    """Two sessions of one day are one sum; the next day is another."""
    later = STARTED + timedelta(days=1)
    found = minutes_by_day([_entry(STARTED, 300), _entry(STARTED, 90), _entry(later, 60)])

    day = STARTED.astimezone().date()
    assert found == {day: 6.5, day + timedelta(days=1): 1.0}


def test_weeks_begin_on_monday_and_end_with_the_last_day() -> None:
    """25 November 2026 is a Wednesday (ISO 8601 week 48): four days of its week are to come."""
    last = date(2026, 11, 25)
    found = calendar_weeks({date(2026, 11, 24): 12.0}, last, 3)

    assert [first.isocalendar().week for first, _ in found] == [46, 47, 48]
    assert monday_of(last) == date(2026, 11, 23)
    assert found[-1][1] == (0.0, 12.0, 0.0, None, None, None, None)
