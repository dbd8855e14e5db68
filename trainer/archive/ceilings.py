"""Ceilings from a folder of sessions: what each player's rungs of a pattern say, over time."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from trainer.measure.ceiling import RungOutcome, ceiling_history
from trainer.practice.ladder import START_SHARE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from trainer.archive.session_list import RungConditions, SessionEntry
    from trainer.measure.ceiling import Ceiling, TempoEstimate

DAY_S = 86_400.0
CURVE_POINTS = 24

REMEMBERED = 40
"""Sessions a ceiling is read from: what lies before them has drifted away."""


@dataclass(frozen=True, slots=True)
class Climb:
    """All comparable sessions of one player and pattern that have rungs, the oldest first."""

    player: str
    pattern: str
    title: str
    entries: tuple[SessionEntry, ...]

    @property
    def conditions(self) -> RungConditions:
        """What all its rungs were played under."""
        return self.entries[0].conditions

    def ceiling(self, now: datetime) -> Ceiling | None:
        """Return the ceiling as of a moment, from the last `REMEMBERED` sessions before it.

        Days without practice widen its interval.
        """
        known = [entry for entry in self.entries if entry.started <= now][-REMEMBERED:]
        if not known:
            return None
        return ceiling_history(_parts(known), _days(known[-1].started, now))[-1]

    def curve(self, points: int = CURVE_POINTS) -> list[tuple[datetime, Ceiling]]:
        """Return the ceiling after each session, at most `points` of them spread over the time."""
        step = max(1, -(-len(self.entries) // points))
        ends = [*range(len(self.entries) - 1, -1, -step)][::-1]
        if len(self.entries) > points * REMEMBERED:
            moments = [self.entries[end].started for end in ends]
            return [(when, one) for when in moments if (one := self.ceiling(when))]
        found = ceiling_history(_parts(self.entries))
        return [(self.entries[end].started, found[end]) for end in ends]


def _parts(entries: Sequence[SessionEntry]) -> list[tuple[float, list[RungOutcome]]]:
    """Return each session as the days since the one before and its rungs."""
    starts = [entry.started for entry in entries]
    return [
        (_days(before, entry.started), [RungOutcome(*rung) for rung in entry.rungs])
        for before, entry in zip([starts[0], *starts], entries, strict=False)
    ]


def _days(start: datetime, end: datetime) -> float:
    return (end - start).total_seconds() / DAY_S


def climbs(entries: Iterable[SessionEntry]) -> list[Climb]:
    """Return each player's climb of each pattern with rungs, the one played last at the end.

    Rungs of another strictness, length or input make a climb of their own. A player's label is the
    same in small letters and in capitals.
    """
    rows: dict[tuple[str, str, RungConditions], list[SessionEntry]] = defaultdict(list)
    for entry in entries:
        if entry.rungs:
            rows[entry.player.casefold(), entry.pattern, entry.conditions].append(entry)
    found = []
    for (_, pattern, _), played in rows.items():
        played.sort(key=lambda entry: entry.started)
        last = played[-1]
        found.append(Climb(last.player, pattern, last.title, tuple(played)))
    return sorted(found, key=lambda climb: climb.entries[-1].started)


def climb_of(
    entries: Iterable[SessionEntry],
    player: str,
    pattern: str,
    strictness: str | None = None,
    passes: int | None = None,
) -> Climb | None:
    """Return one player's climb of one pattern, the one played last; None where there is none.

    With `strictness` and `passes` (as in `RungConditions`), only one that was played so.
    """
    for one in reversed(climbs(entry for entry in entries if entry.pattern == pattern)):
        if (
            one.player.casefold() == player.casefold()
            and strictness in (None, one.conditions.strictness)
            and passes in (None, one.conditions.passes)
        ):
            return one
    return None


def ladder_start(found: Ceiling) -> float:
    """Return the tempo (whole BPM) a ladder begins at for a player with this ceiling."""
    return float(round(START_SHARE * found.three_quarters.tempo))


def ladder_start_words(found: Ceiling, start: float) -> str:
    """Return how far below what is known a ladder begins (BPM), in words."""
    if start != ladder_start(found):
        return f"Starting at {start:g} BPM, as far as the range of the ladder allows"
    share = f"{1 - START_SHARE:.0%}".replace("%", " %")
    below = f"{share} below the {found.three_quarters.tempo:.0f} where three in four are clean"
    half = found.half
    if half.open_above or half.open_below:
        return f"Starting at {start:g} BPM, {below}"
    under = 100 * (1 - start / half.tempo)
    return (
        f"Starting at {start:g} BPM, {under:.0f} % below your ceiling of {half.tempo:.0f} ({below})"
    )


def ceiling_words(found: Ceiling) -> str:
    """Return a ceiling in words: a figure with its 90 % interval, or the bound that is known."""
    half = found.half
    if half.open_above:
        return f"clean up to {half.tempo:.0f} BPM at least"
    if half.open_below:
        return f"ceiling {half.tempo:.0f} BPM at most"
    return (
        f"{short_ceiling_words(found)}, where one rung in two is clean; three clean in four at "
        f"{found.three_quarters.tempo:.0f}"
    )


def short_ceiling_words(found: Ceiling) -> str:
    """Return the ceiling alone in words."""
    half = found.half
    if half.open_above or half.open_below:
        return ceiling_words(found)
    return f"ceiling {half.tempo:.0f} BPM (90 % sure: {half.low:.0f} to {half.high:.0f})"


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
                "conditions": asdict(climb.conditions),
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
