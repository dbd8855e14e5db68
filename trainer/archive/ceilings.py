"""Ceilings from a folder of sessions: what each player's rungs of a pattern say, over time.

Also the result of one session's ladder: its rungs, and the ceiling before and after it.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.archive.session_file import open_session
from trainer.archive.session_list import list_sessions
from trainer.errors import TrainerError
from trainer.measure.ceiling import RungOutcome, ceiling, ceiling_history
from trainer.practice.ladder import START_SHARE

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from trainer.archive.session import RungResult, Session
    from trainer.archive.session_list import SessionEntry
    from trainer.measure.ceiling import Ceiling

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
    """Return the tempo (whole BPM) a ladder begins at for a player with this ceiling."""
    return float(round(START_SHARE * found.three_quarters.tempo))


@dataclass(frozen=True, slots=True)
class LadderResult:
    """The rungs of one session, and the player's ceiling of its pattern before and after.

    `before` is None on the first ladder, `after` where the session is not among those known.
    """

    rungs: tuple[RungResult, ...]
    before: Ceiling | None
    after: Ceiling | None


def read_ladder_result(path: str | Path | None) -> LadderResult | None:
    """Return the result of a saved session's ladder; None where there is none to be read."""
    if path is None:
        return None
    try:
        session = open_session(Path(path))
        return (
            ladder_result_among(session, list_sessions(Path(path).parent).entries)
            if session.rungs
            else None
        )
    except (TrainerError, OSError):
        return None  # A session may be saved where nothing can be read back.


def ladder_result_among(session: Session, entries: Iterable[SessionEntry]) -> LadderResult:
    """Return the result of a session's ladder, given all sessions of its folder."""
    started, header = session.header.started, session.header
    climb = climb_of(
        (one for one in entries if one.started <= started), header.player, header.pattern.name
    )
    earlier = [one.started for one in climb.entries if one.started < started] if climb else []
    return LadderResult(
        session.rungs,
        climb.ceiling(earlier[-1]) if climb and earlier else None,
        climb.ceiling(started) if climb else None,
    )
