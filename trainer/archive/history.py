"""The history: which sessions, how long on which day, and how each pattern's main numbers change.

A trend compares the first sessions of a pattern with the last ones: the median of up to `AT_EACH`
of them at either end, never the same session twice. Tempo usually rises on the way, so it is a
trend of its own, to be read beside the others. Days are those of the local clock.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from itertools import groupby
from statistics import median
from typing import TYPE_CHECKING

from trainer.archive.session_list import FIGURES, KEYS, KIT, SIMULATED, SessionEntry
from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence


@dataclass(frozen=True, slots=True)
class PractisedWeek:
    """A week from its Monday on: the minutes played, and on how many days."""

    monday: date
    minutes: float
    days: int


def minutes_by_day(entries: Iterable[SessionEntry]) -> dict[date, float]:
    """Return the minutes played on each day on which anything was; a session counts as it began."""
    found: dict[date, float] = defaultdict(float)
    for entry in entries:
        found[entry.started.astimezone().date()] += entry.seconds / 60.0
    return dict(found)


def monday_of(day: date) -> date:
    """Return the Monday of a day's week."""
    return day - timedelta(days=day.weekday())


def practised_weeks(minutes: dict[date, float], last: date, count: int) -> list[PractisedWeek]:
    """Return `count` weeks up to that of the last day, the oldest first, from minutes by day."""
    weeks = []
    for back in range(count - 1, -1, -1):
        monday = monday_of(last) - timedelta(weeks=back)
        days = [monday + timedelta(days=place) for place in range(7)]
        played = [minutes[day] for day in days if minutes.get(day) and day <= last]
        weeks.append(PractisedWeek(monday, sum(played), len(played)))
    return weeks


def fastest_clean(entries: Sequence[SessionEntry]) -> SessionEntry | None:
    """Return the session with the fastest clean tempo of one pattern, the first of equals.

    `entries` are the oldest first. Only those count that were played as the last one was: by the
    same player, on the same input, as strictly. None where nothing of them was clean.
    """
    return max(
        (entry for entry in entries if entry.clean_tempo and _played_alike(entry, entries[-1])),
        key=lambda entry: entry.clean_tempo or 0.0,
        default=None,
    )


def _played_alike(one: SessionEntry, other: SessionEntry) -> bool:
    return one.player.casefold() == other.player.casefold() and all(
        getattr(one.conditions, name) == getattr(other.conditions, name)
        for name in ("strictness", "input")
    )


def fastest_clean_by_week(
    entries: Sequence[SessionEntry], last: date, count: int
) -> list[tuple[date, float | None]]:
    """Return each of `count` weeks up to that of the last day, with its fastest clean tempo in BPM.

    A week is its Monday, the oldest first; `entries` as for `fastest_clean`. None: nothing clean.
    """
    best: dict[date, float] = {}
    for entry in entries:
        if entry.clean_tempo and _played_alike(entry, entries[-1]):
            monday = monday_of(entry.started.astimezone().date())
            best[monday] = max(best.get(monday, 0.0), entry.clean_tempo)
    mondays = [monday_of(last) - timedelta(weeks=back) for back in range(count - 1, -1, -1)]
    return [(monday, best.get(monday)) for monday in mondays]


@dataclass(frozen=True, slots=True)
class PractisedPattern:
    """When a pattern was practised last, and its fastest clean tempo in BPM (None: none yet)."""

    last: datetime
    clean_tempo: float | None


def practised_patterns(entries: Iterable[SessionEntry]) -> dict[str, PractisedPattern]:
    """Return each pattern that was practised, by its name."""
    return {
        one.name: PractisedPattern(one.entries[-1].started, best.clean_tempo if best else None)
        for one in histories_by_pattern(entries)
        for best in [fastest_clean(one.entries)]
    }


AT_EACH = 5

NO_NAME = "no name"
"""What a player without a name is called beside others."""

_DAYS = {"d": 1, "w": 7, "m": 30, "y": 365}

MEASURES: dict[str, Callable[[SessionEntry], float | None]] = {
    "tempo_high": lambda entry: entry.tempos[1] if entry.tempos else None,
    **{name: lambda entry, name=name: entry.figures[name] for name in FIGURES},  # type: ignore[misc]
}
"""What a trend is kept of, and where an entry has it."""


@dataclass(frozen=True, slots=True)
class Trend:
    """One number over the sessions of a pattern: its median at the start and at the end."""

    name: str
    first: float
    last: float
    count: int


@dataclass(frozen=True, slots=True)
class PatternHistory:
    """All chosen sessions of one pattern, the oldest first."""

    name: str
    title: str
    entries: tuple[SessionEntry, ...]

    @property
    def seconds(self) -> float:
        """The time played."""
        return sum(entry.seconds for entry in self.entries)

    @property
    def tempos(self) -> tuple[float, float] | None:
        """The lowest and the highest tempo in BPM, None where no pass was begun."""
        known = [entry.tempos for entry in self.entries if entry.tempos]
        if not known:
            return None
        return min(low for low, _ in known), max(high for _, high in known)

    def trends(self) -> tuple[Trend, ...]:
        """Return the trend of every measure that two sessions or more have."""
        found = (_trend(name, map(of, self.entries)) for name, of in MEASURES.items())
        return tuple(trend for trend in found if trend)


def start_of_period(text: str, now: datetime) -> datetime:
    """Return the moment that `30d`, `6w`, `3m`, `1y` or a date like 2026-03-01 goes back to."""
    found = re.fullmatch(r"(\d{1,4})([dwmy])", text, re.ASCII)
    try:
        if found:
            return now - timedelta(days=int(found[1]) * _DAYS[found[2]])
        return datetime.strptime(text, "%Y-%m-%d").replace(tzinfo=now.tzinfo or UTC)
    except (ValueError, OverflowError):  # also what lies before the first year
        raise BadInput(
            f'"{text[:40]}" is no length of time',
            where="--since",
            fix="write 30d, 6w, or 2026-03-01",
        ) from None


def choose_sessions(
    entries: Iterable[SessionEntry],
    *,
    pattern: str | None = None,
    player: str | None = None,
    start: datetime | None = None,
    simulated: bool = False,
) -> tuple[SessionEntry, ...]:
    """Return the entries of a pattern (a name or part of name or title), a player, a time.

    Those of the simulated player are left out unless `simulated` is True.
    """
    return tuple(
        entry
        for entry in entries
        if (simulated or entry.played_on != SIMULATED)
        and (pattern is None or _named(entry, pattern))
        and (player is None or entry.player.casefold() == player.casefold())
        and (start is None or entry.started >= start)
    )


def histories_by_pattern(entries: Iterable[SessionEntry]) -> tuple[PatternHistory, ...]:
    """Return the histories of each pattern, the one played last at the end."""
    rows = sorted(entries, key=lambda entry: (entry.pattern, entry.started))
    groups = [tuple(group) for _, group in groupby(rows, key=lambda entry: entry.pattern)]
    groups.sort(key=lambda group: group[-1].started)
    return tuple(PatternHistory(group[-1].pattern, group[-1].title, group) for group in groups)


def histories_by_player(history: PatternHistory) -> tuple[tuple[str, PatternHistory], ...]:
    """Return the history of each player of a pattern with the name, the one who came first first.

    Trends of several players together would compare one with another, as would those of a kit and
    of computer keys: these have a history each.
    """
    groups: dict[tuple[str, str], list[SessionEntry]] = {}
    for entry in history.entries:
        groups.setdefault((entry.player.casefold(), entry.played_on), []).append(entry)
    return tuple(
        (_group_name(player, kind, own, groups), replace(history, entries=tuple(own)))
        for (player, kind), own in groups.items()
    )


INPUT_WORDS = {KIT: "on a kit", KEYS: "on the computer keys", SIMULATED: "simulated"}


def _group_name(
    player: str,
    kind: str,
    own: Sequence[SessionEntry],
    groups: dict[tuple[str, str], list[SessionEntry]],
) -> str:
    """Return the name of a player, with what was played on where that was not always the same."""
    name = own[-1].player or NO_NAME
    several = sum(other == player for other, _ in groups) > 1
    return f"{name}, {INPUT_WORDS[kind]}" if several else name


def player_names(entries: Sequence[SessionEntry]) -> list[str]:
    """Return the names of the players of some sessions, in the order in which they came."""
    names = {entry.player.casefold(): entry.player or NO_NAME for entry in entries}
    return list(names.values())


def _named(entry: SessionEntry, text: str) -> bool:
    wanted = text.casefold()
    return wanted in entry.pattern.casefold() or wanted in entry.title.casefold()


def _trend(name: str, values: Iterable[float | None]) -> Trend | None:
    known = [value for value in values if value is not None]
    if len(known) < 2:
        return None
    each = min(AT_EACH, len(known) // 2)
    return Trend(name, median(known[:each]), median(known[-each:]), len(known))
