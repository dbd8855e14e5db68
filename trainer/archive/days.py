"""Minutes practised by day, and the weeks of a calendar. Days are those of the local clock."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainer.archive.index import Entry

Week = tuple[float | None, ...]
"""Minutes from Monday to Sunday; None for days that are still to come."""


def minutes_by_day(entries: Iterable[Entry]) -> dict[date, float]:
    """Return the minutes played on each day on which anything was; a session counts as it began."""
    found: dict[date, float] = defaultdict(float)
    for entry in entries:
        found[entry.started.astimezone().date()] += entry.seconds / 60.0
    return dict(found)


def monday(day: date) -> date:
    """Return the Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def weeks(minutes: dict[date, float], last: date, count: int) -> list[tuple[date, Week]]:
    """Return `count` weeks up to that of the last day, each with its Monday, the oldest first."""
    rows = []
    for back in range(count - 1, -1, -1):
        first = monday(last) - timedelta(weeks=back)
        days = [first + timedelta(days=place) for place in range(7)]
        rows.append((first, tuple(None if d > last else minutes.get(d, 0.0) for d in days)))
    return rows
