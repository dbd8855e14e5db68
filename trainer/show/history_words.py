"""The sessions of a folder in words: patterns with their trends, ceilings, and each session."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.archive.history import histories_by_pattern, histories_by_player, player_names
from trainer.show.ceiling_words import ceiling_words
from trainer.show.number_words import count_text
from trainer.show.session_words import (
    date_words,
    duration_words,
    empty_session_words,
    tempo_words,
    trend_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from trainer.actions.history import History
    from trainer.archive.ceilings import Climb
    from trainer.archive.history import PatternHistory
    from trainer.archive.session_list import SessionEntry

LATEST = 20
CEILINGS = 8
"""How many sessions and ceilings are listed unless all are asked for."""


def history_lines(history: History, now: datetime, *, everything: bool = False) -> Iterator[str]:
    """Give a history: the time played, each pattern, the sessions, and the ceilings as of now."""
    entries, climbs = history.chosen, history.climbs
    total = sum(entry.seconds for entry in entries)
    yield (
        f"{_count(entries)}, {duration_words(total)} of playing,"
        f" from {date_words(entries[0].started)} to {date_words(entries[-1].started)}."
    )
    if len(names := player_names(entries)) > 1:
        yield f"Several players are in it: {', '.join(names)}. --player NAME shows one of them."
    for one in histories_by_pattern(entries):
        yield ""
        yield from _pattern_lines(one)
    yield ""
    shown = entries if everything else entries[-LATEST:]
    yield "Sessions, the latest last:" if len(shown) == len(entries) else f"The latest {LATEST}:"
    yield from (_session_line(entry) for entry in shown)
    yield from _ceiling_lines(climbs if everything else climbs[-CEILINGS:], now)


def _ceiling_lines(climbs: Sequence[Climb], now: datetime) -> Iterator[str]:
    """Give the ceilings of some climbs, the one played last at the end."""
    if climbs:
        yield ""
        yield "Ceilings:"
    for climb in climbs:
        found = climb.ceiling(now)
        by = f"{climb.player}, " * bool(climb.player)
        if found:
            yield f"  {climb.title}: {by}{ceiling_words(found)}."


def _pattern_lines(history: PatternHistory) -> Iterator[str]:
    yield f"{history.title}: {_played(history)}"
    owned = histories_by_player(history)
    if len(owned) == 1:
        yield from (f"  {trend_words(trend)}" for trend in history.trends())
        return
    for name, own in owned:
        yield f"  {name}: {_played(own)}"
        yield from (f"    {trend_words(trend)}" for trend in own.trends())


def _played(history: PatternHistory) -> str:
    tempos = f", {tempo_words(*history.tempos)}" if history.tempos else ""
    return f"{_count(history.entries)}, {duration_words(history.seconds)}{tempos}"


def _session_line(entry: SessionEntry) -> str:
    tempos = tempo_words(*entry.tempos) if entry.tempos else "no pass"
    by = f", {entry.player}" if entry.player else ""
    played = empty_session_words(entry) or f"{tempos}, {duration_words(entry.seconds)}"
    when = f"{entry.started:%Y-%m-%d %H:%M}"
    return f"  {when}  {entry.title}, {played}{by}"


def _count(entries: Sequence[SessionEntry]) -> str:
    return count_text(len(entries), "session")
