"""Ceilings from a folder of sessions: what each player's rungs of a pattern say, over time.

Also the result of one session's ladder: its rungs, and the ceiling before and after it.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.archive.session_file import open_session
from trainer.archive.session_list import conditions_of, list_sessions
from trainer.archive.summary import judge_session
from trainer.errors import BadInput, TrainerError
from trainer.measure.ceiling import RungOutcome, ceiling_history
from trainer.measure.clean import read_tolerance
from trainer.measure.endurance import Endurance, LongRung, endurance
from trainer.measure.forecast import DayCeiling, day_ceilings
from trainer.measure.limb_ceilings import LimbCeilings, limb_ceilings
from trainer.practice.ladder import START_SHARE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from trainer.archive.session import RungResult, Session
    from trainer.archive.session_list import RungConditions, SessionEntry
    from trainer.measure.ceiling import Ceiling

DAY_S = 86_400.0
CURVE_POINTS = 24

MOST_OPENED = 6
"""Earlier sessions that are opened for what longer rungs cost."""

REMEMBERED = 40
"""Sessions a ceiling is read from: what was before them has drifted away."""


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

    @property
    def slowest_clean(self) -> float | None:
        """The slowest tempo (BPM) of the last session with a clean rung that was clean in it."""
        for entry in reversed(self.entries):
            if clean := [tempo for tempo, is_clean in entry.rungs if is_clean]:
                return min(clean)
        return None

    def own_ceilings(self, now: datetime) -> list[DayCeiling]:
        """Return the own ceilings of the last `REMEMBERED` sessions; days count from now."""
        known = [entry for entry in self.entries if entry.started <= now][-REMEMBERED:]
        return day_ceilings(
            [
                (-_days(entry.started, now), [RungOutcome(*rung) for rung in entry.rungs])
                for entry in known
            ]
        )

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

    Rungs of another strictness, length or input make a climb of their own; rungs that grow in
    length belong to none. A player's label is the same in small letters and in capitals.
    """
    rows: dict[tuple[str, str, RungConditions], list[SessionEntry]] = defaultdict(list)
    for entry in entries:
        if entry.rungs and not entry.conditions.longer:
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
    conditions: RungConditions | None = None,
) -> Climb | None:
    """Return one player's climb of one pattern, the one played last; None where there is none.

    With `conditions`, only one that was played under them.
    """
    for one in reversed(climbs(entry for entry in entries if entry.pattern == pattern)):
        same_player = one.player.casefold() == player.casefold()
        if same_player and conditions in (None, one.conditions):
            return one
    return None


def ladder_start(found: Ceiling, slowest_clean: float | None = None) -> float:
    """Return the tempo (whole BPM) a ladder starts at for a player with this ceiling.

    It is never below the slowest tempo that was clean the last time, unless the ceiling is.
    """
    start = START_SHARE * found.three_quarters.tempo
    return float(round(max(start, min(slowest_clean or 0.0, found.half.tempo))))


@dataclass(frozen=True, slots=True)
class LadderResult:
    """The rungs of one session, and the player's ceiling of its pattern before and after.

    `before` is None on the first ladder, `after` where the session is not among those known.
    `limbs` are its hands apart, `length` what longer rungs cost in the last ladders like this one;
    both None where only the rungs were read.
    """

    rungs: tuple[RungResult, ...]
    before: Ceiling | None
    after: Ceiling | None
    limbs: LimbCeilings | None = None
    length: Endurance | None = None


def read_ladder_result(path: str | Path | None) -> LadderResult | None:
    """Return the result of a saved session's ladder; None where there is none to be read."""
    if path is None:
        return None
    try:
        session = open_session(Path(path))
        if not session.rungs:
            return None
        entries = list_sessions(Path(path).parent).entries
        return replace(
            ladder_result_among(session, entries),
            limbs=_limbs(session),
            length=endurance(_long_rungs(session, entries)),
        )
    except (TrainerError, OSError):
        return None  # A session may be saved where nothing can be read back.


def _limbs(session: Session) -> LimbCeilings | None:
    """Return the hands of a ladder apart; None where its strictness cannot be read."""
    try:
        return limb_ceilings(judge_session(session), read_tolerance(session.header.tolerance))
    except BadInput:
        return None


def _long_rungs(session: Session, entries: Iterable[SessionEntry]) -> list[LongRung]:
    """Return the rungs of a session and of the last ones like it, whatever their length.

    Rungs that last as long as the answer needs are left out: they are long because it was close.
    """
    own = conditions_of(session.header)
    like = [
        entry
        for entry in entries
        if entry.rungs
        and _chosen_length(entry.conditions)
        and entry.started < session.header.started
        and entry.pattern == session.pattern.name
        and entry.player.casefold() == session.header.player.casefold()
        and (entry.conditions.strictness, entry.conditions.input) == (own.strictness, own.input)
    ]
    played = [open_session(entry.path) for entry in like[-MOST_OPENED:]]
    return [
        LongRung(rung.tempo, rung.strokes, rung.clean)
        for one in (*played, *[session] * _chosen_length(own))
        for rung in one.rungs
    ]


def _chosen_length(one: RungConditions) -> bool:
    return one.longer or one.passes > 0


def ladder_result_among(session: Session, entries: Iterable[SessionEntry]) -> LadderResult:
    """Return the result of a session's ladder, given all sessions of its folder."""
    started, header = session.header.started, session.header
    climb = climb_of(
        (one for one in entries if one.started <= started),
        header.player,
        header.pattern.name,
        conditions_of(header),
    )
    earlier = [one.started for one in climb.entries if one.started < started] if climb else []
    return LadderResult(
        session.rungs,
        climb.ceiling(earlier[-1]) if climb and earlier else None,
        climb.ceiling(started) if climb else None,
    )
