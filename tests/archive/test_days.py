"""Minutes by day and by week; weeks begin on Monday."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from sessions import STARTED

from trainer.archive.history import PractisedWeek, minutes_by_day, monday_of, practised_weeks
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
    """25 November 2026 is a Wednesday of ISO 8601 week 48; a later day of that week is left out."""
    last = date(2026, 11, 25)
    minutes = {date(2026, 11, 23): 8.0, date(2026, 11, 24): 12.0, date(2026, 11, 26): 99.0}
    found = practised_weeks(minutes, last, 3)

    assert [week.monday.isocalendar().week for week in found] == [46, 47, 48]
    assert monday_of(last) == date(2026, 11, 23)
    assert found[-1] == PractisedWeek(date(2026, 11, 23), 20.0, 2)
    assert found[0] == PractisedWeek(date(2026, 11, 9), 0, 0)
