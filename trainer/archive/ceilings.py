"""Ceilings from a folder of sessions: what each player's rungs of a pattern say, over time."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from trainer.measure.ceiling import RungOutcome, ceiling, ceiling_history
from trainer.practice.ladder import START_SHARE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from trainer.archive.session_list import SessionEntry
    from trainer.measure.ceiling import Ceiling, TempoEstimate

DAY_S = 86_400.0
CURVE_POINTS = 24


@dataclass(frozen=True, slots=True)
class Climb:
    """All sessions of one player and pattern that have rungs, the oldest first."""

    player: str
    pattern: str
    title: str
    entries: tuple[SessionEntry, ...]

    def ceiling(self, now: datetime) -> Ceiling | None:
        """Return the ceiling as of a moment: from the rungs before it, the older the lighter.

        Age counts from the last of them: after a pause it is still what was known before.
        """
        known = [entry for entry in self.entries if entry.started <= now]
        return ceiling(_rungs(known, known[-1].started)) if known else None

    def curve(self, points: int = CURVE_POINTS) -> list[tuple[datetime, Ceiling]]:
        """Return the ceiling after each session, at most `points` of them spread over the time."""
        step = max(1, -(-len(self.entries) // points))
        ends = [*range(len(self.entries) - 1, -1, -step)][::-1]
        parts = []
        for first, last in pairwise((-1, *ends)):
            end = self.entries[last].started
            days = (end - self.entries[max(first, 0)].started).total_seconds() / DAY_S
            parts.append((days, _rungs(self.entries[first + 1 : last + 1], end)))
        return list(
            zip((self.entries[last].started for last in ends), ceiling_history(parts), strict=True)
        )


def _rungs(entries: Iterable[SessionEntry], end: datetime) -> list[RungOutcome]:
    """Return the rungs of some sessions with their age at a moment."""
    return [
        RungOutcome(tempo, clean, (end - entry.started).total_seconds() / DAY_S)
        for entry in entries
        for tempo, clean in entry.rungs
    ]


def climbs(entries: Iterable[SessionEntry]) -> list[Climb]:
    """Return each player's climb of each pattern with rungs, the one played last at the end.

    A player's label is the same in small letters and in capitals.
    """
    rows: dict[tuple[str, str], list[SessionEntry]] = defaultdict(list)
    for entry in entries:
        if entry.rungs:
            rows[entry.player.casefold(), entry.pattern].append(entry)
    found = []
    for (_, pattern), played in rows.items():
        played.sort(key=lambda entry: entry.started)
        last = played[-1]
        found.append(Climb(last.player, pattern, last.title, tuple(played)))
    return sorted(found, key=lambda climb: climb.entries[-1].started)


def climb_of(entries: Iterable[SessionEntry], player: str, pattern: str) -> Climb | None:
    """Return one player's climb of one pattern, None where no ladder was played."""
    for one in climbs(entry for entry in entries if entry.pattern == pattern):
        if one.player.casefold() == player.casefold():
            return one
    return None


def ladder_start(found: Ceiling) -> float:
    """Return the tempo (whole BPM) a ladder starts at for a player with this ceiling."""
    return float(round(START_SHARE * found.three_quarters.tempo))


def ladder_start_words(found: Ceiling, start: float) -> str:
    """Return in words where a ladder starts (BPM), and how far that is below the ceiling."""
    if start != ladder_start(found):
        return f"Start at {start:g} BPM, the edge of this ladder's range"
    below = f"{1 - START_SHARE:.0%} below {found.three_quarters.tempo:.0f}, where 3 in 4 are clean"
    half = found.half
    if half.open_above or half.open_below:
        return f"Start at {start:g} BPM, {below}"
    under = 100 * (1 - start / half.tempo)
    return f"Start at {start:g} BPM, {under:.0f}% below your ceiling of {half.tempo:.0f}"


def ceiling_words(found: Ceiling) -> str:
    """Return a ceiling in words: a figure with its 90% interval, or the bound that is known."""
    half = found.half
    if half.open_above:
        return f"clean up to at least {half.tempo:.0f} BPM"
    if half.open_below:
        return f"ceiling at most {half.tempo:.0f} BPM"
    return f"{short_ceiling_words(found)}, 3 in 4 clean at {found.three_quarters.tempo:.0f}"


def short_ceiling_words(found: Ceiling) -> str:
    """Return the ceiling alone in words."""
    half = found.half
    if half.open_above or half.open_below:
        return ceiling_words(found)
    return f"ceiling {half.tempo:.0f} BPM ({half.low:.0f} to {half.high:.0f}, 90% interval)"


def ceilings_document(found: Sequence[Climb], now: datetime) -> list[dict[str, Any]]:
    """Return ceilings for JSON; an open end of an interval is null."""
    rows = []
    for climb in found:
        one = climb.ceiling(now)
        if one is None:
            continue
        rows.append(
            {
                "player": climb.player,
                "pattern": climb.pattern,
                "title": climb.title,
                "rungs": one.rungs,
                "half": estimate_document(one.half),
                "three_quarters": estimate_document(one.three_quarters),
                "curve": [
                    {"date": when.isoformat(), **estimate_document(then.half)}
                    for when, then in climb.curve()
                ],
            }
        )
    return rows


def estimate_document(one: TempoEstimate) -> dict[str, float | None]:
    """Return one tempo with its interval for JSON; an open end is None."""
    return {
        "tempo": one.tempo,
        "low": None if one.open_below else one.low,
        "high": None if one.open_above else one.high,
    }
