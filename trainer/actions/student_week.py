"""A student's week, read from the sessions: what was practised, is clean, breaks and comes next."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from trainer.archive import routines, students
from trainer.archive.history import (
    histories_by_pattern,
    minutes_by_day,
    monday_of,
)
from trainer.archive.session_file import open_session
from trainer.archive.session_list import by_people
from trainer.archive.summary import cut_short, session_summary
from trainer.errors import BadInput, TrainerError
from trainer.measure.comparison import compare_readings
from trainer.pattern import library
from trainer.pattern.model import NOTE_VALUES
from trainer.pattern.ways import counts_as
from trainer.typed_json import converted

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from trainer.archive.session_list import SessionEntry
    from trainer.archive.students import Student
    from trainer.measure.comparison import NumberChange
    from trainer.measure.stroke_group import Finding
    from trainer.practice.routine import Routine


MOST_LOOKED_AT = 8
"""So many sessions back a weakness is looked for."""


@dataclass(frozen=True, slots=True)
class AimResult:
    """What a block of an assignment wants, and the fastest clean tempo so far (BPM, or None)."""

    pattern: str
    title: str
    aim: float | None
    fastest: float | None
    played: bool

    @property
    def reached(self) -> bool:
        """Whether the pattern is clean at the tempo of the assignment."""
        return self.aim is not None and self.fastest is not None and self.fastest >= self.aim


@dataclass(frozen=True, slots=True)
class Weakness:
    """What breaks first: the finding of the advice that the newest sessions have most often.

    `finding` is None where no weak point was found; `times` says in how many of the `sessions` with
    enough strokes it is there, `newest` is the last of them.
    """

    finding: dict[str, Any] | None
    times: int
    sessions: int
    newest: SessionEntry | None = None


@dataclass(frozen=True, slots=True)
class FirstToLast:
    """The first and the last session of a pattern in a week, on what it was played on last.

    `changes` are the numbers that differ by more than chance, None where nothing could be
    compared: there was one session, or too few strokes. `tempos` are the fastest of each (BPM).
    """

    sessions: int
    changes: tuple[NumberChange, ...] | None = None
    tempos: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class StudentOverview:
    """One student: when last practised, the minutes of this week, the assignment, what breaks.

    `faults` are the files that could not be read.
    """

    student: Student
    last: datetime | None
    minutes: float
    assignment: Routine | None
    aims: tuple[AimResult, ...]
    weakness: Weakness
    faults: tuple[TrainerError, ...]


@dataclass(frozen=True, slots=True)
class PatternWeek:
    """A pattern in a week: minutes, the fastest clean tempo, and what changed in the week."""

    title: str
    minutes: float
    result: AimResult
    compared: FirstToLast


@dataclass(frozen=True, slots=True)
class WeekReport:
    """A student's week from its Monday on: minutes by day, each pattern, and what to do next.

    `faults` are the files that could not be read.
    """

    student: Student
    monday: date
    minutes: tuple[float, ...]
    assignment: Routine | None
    patterns: tuple[PatternWeek, ...]
    weakness: Weakness
    faults: tuple[TrainerError, ...]


def overviews(today: date) -> list[StudentOverview]:
    """Return all students, the one who practised longest ago first."""
    found = [overview(one, today) for one in students.load()]
    return sorted(found, key=lambda one: (one.last is not None, one.last and one.last.timestamp()))


def overview(student: Student, today: date) -> StudentOverview:
    """Return one student's overview; files that cannot be read are faults in it."""
    entries, strange = _practised(student)
    given, faults = assignments(student)
    assignment = assigned_for(given, today)
    this_week = [
        minutes
        for day, minutes in minutes_by_day(entries).items()
        if monday_of(day) == monday_of(today)
    ]
    return StudentOverview(
        student,
        entries[-1].started if entries else None,
        sum(this_week),
        assignment,
        aim_results(assignment, entries),
        weakness_of(entries),
        (*strange, *faults),
    )


def assignments(student: Student) -> tuple[list[Routine], list[BadInput]]:
    """Return the routines in a student's folder by name, and the faults of those unreadable."""
    found, faults = [], []
    for path in sorted(student.routines.glob(f"*{routines.ROUTINE_ENDING}")):
        try:
            found.append(routines.load_routine(path))
        except BadInput as fault:
            faults.append(fault)
    return found, faults


def assigned_for(given: Sequence[Routine], day: date) -> Routine | None:
    """Return what is assigned for the week of a day: the latest that is not of a later week."""
    begun = [one for one in given if one.week and one.week <= _sunday(day)]
    return max(begun, key=lambda one: one.week or date.min, default=None)


def week_report(name: str, day: date) -> WeekReport:
    """Return the report of a student's week; raises BadInput for one who is not listed."""
    student = students.find(name)
    monday = monday_of(day)
    entries, strange = _practised(student)
    week = [one for one in entries if monday_of(one.started.astimezone().date()) == monday]
    by_day = minutes_by_day(week)
    given, faults = assignments(student)
    assignment = assigned_for(given, day)
    aims = {one.pattern: one for one in aim_results(assignment, week)}
    rows = [
        PatternWeek(
            history.title,
            history.seconds / 60,
            _aim_of(history.name, aims) or _result(history.name, history.title, None, week),
            _first_to_last(history.entries),
        )
        for history in histories_by_pattern(week)
    ]
    played = {one.result.pattern for one in rows}
    rows += [
        PatternWeek(one.title, 0.0, one, FirstToLast(0))
        for one in aims.values()
        if one.pattern not in played
    ]
    days = tuple(by_day.get(monday + timedelta(days=place), 0.0) for place in range(7))
    return WeekReport(
        student,
        monday,
        days,
        assignment,
        tuple(rows),
        weakness_of(week),
        (*strange, *faults),
    )


def _sunday(day: date) -> date:
    return monday_of(day) + timedelta(days=6)


def _practised(student: Student) -> tuple[list[SessionEntry], list[BadInput]]:
    """Return the sessions in which the student played, the oldest first; no simulated ones.

    Files that cannot be read are faults, as are sessions of another student and of a clock that
    is ahead of ours.
    """
    known = students.known_sessions(student)
    others = {one.name.casefold(): one.name for one in students.load() if one != student}
    latest = datetime.now().astimezone() + timedelta(days=1)
    entries, faults = [], list(known.faults)
    for one in by_people(known.entries):
        where = str(one.path)
        if other := others.get(one.player.casefold()):
            faults.append(
                BadInput(f"this session is {other}'s", where=where, fix=f"take it in for {other}")
            )
        elif one.started > latest:
            day = one.started.date().isoformat()
            faults.append(
                BadInput(f"is dated {day}", where=where, fix="set the clock of that computer")
            )
        else:
            entries.append(one)
    return entries, faults


def aim_results(
    assignment: Routine | None, entries: Sequence[SessionEntry]
) -> tuple[AimResult, ...]:
    """Return the aim of each pattern of an assignment, the last one where it has several."""
    found: dict[str, AimResult] = {}
    for block in assignment.blocks if assignment else ():
        if block.pattern:
            pattern = library.load_pattern(block.opened)
            aim = block.aim or _known_aim(found, pattern.name)
            found[pattern.name] = _result(pattern.name, pattern.title, aim, entries)
    return tuple(found.values())


def _aim_of(played: str, aims: Mapping[str, AimResult]) -> AimResult | None:
    return next((aims[name] for name in counts_as(played) if name in aims), None)


def _known_aim(found: dict[str, AimResult], name: str) -> float | None:
    return found[name].aim if name in found else None


def _result(name: str, title: str, aim: float | None, entries: Sequence[SessionEntry]) -> AimResult:
    own = [one for one in entries if name in counts_as(one.pattern)]
    # On any kit, unlike `fastest_clean`: an aim that was reached at the lesson is reached at home.
    alike = [
        one
        for one in own
        if one.played_on == own[-1].played_on
        and one.conditions.strictness == own[-1].conditions.strictness
    ]
    best = max((one.clean_tempo or 0.0 for one in alike), default=0.0)
    return AimResult(name, title, aim, best or None, bool(own))


def weakness_of(entries: Sequence[SessionEntry]) -> Weakness:
    """Return what breaks first in the newest sessions with enough strokes to say it."""
    looked_at = [(one, _advice(one)) for one in entries[-1 : -MOST_LOOKED_AT - 1 : -1]]
    known = [(entry, advice) for entry, advice in looked_at if advice is not None]
    found = [advice for _, advice in known]
    named = [advice[0].name for advice in found if advice]
    if not named:
        return Weakness(None, 0, len(found))
    often = max(named, key=named.count)
    entry, newest = next((at, one[0]) for at, one in known if one and one[0].name == often)
    times = sum(any(one.name == often for one in advice) for advice in found)
    return Weakness(asdict(newest), times, len(found), entry)


def _advice(entry: SessionEntry) -> list[Finding] | None:
    """Return what a session says is worth practising, None with too few strokes or unreadable.

    As it was saved where that is whole, else read from the strokes.
    """
    try:
        session = cut_short(open_session(entry.path))
        with suppress(BadInput):
            if "advice" in (session.summary or {}):
                return _findings(session.summary)
        return _findings(session_summary(session))
    except TrainerError:
        return None


def _findings(summary: Mapping[str, Any] | None) -> list[Finding] | None:
    """Return the findings of a summary; BadInput for what are none, or name no note values."""
    from trainer.measure.stroke_group import Finding

    if not summary or summary["advice"] is None:
        return None
    found = converted(summary["advice"], list[Finding])
    values = [one for one in found if one.kind in ("value", "change")]
    if not all(one.start in NOTE_VALUES and one.end in NOTE_VALUES for one in values):
        raise BadInput("the advice names no note value")
    return found


def _summary(entry: SessionEntry) -> dict[str, Any]:
    """Return the reading of a session from its strokes, empty where it cannot be read."""
    try:
        return session_summary(cut_short(open_session(entry.path)))
    except TrainerError:
        return {}


def _first_to_last(entries: Sequence[SessionEntry]) -> FirstToLast:
    """Return what differs between the first and the last session by more than chance would do."""
    alike = [one for one in entries if one.played_on == entries[-1].played_on]
    if len(alike) < 2:
        return FirstToLast(len(alike))
    first, last = alike[0], alike[-1]
    found = compare_readings(_summary(first), _summary(last))
    changes = tuple(one for one in found if one.beyond_chance) if found else None
    tempos = (first.tempos[1], last.tempos[1]) if first.tempos and last.tempos else None
    return FirstToLast(len(alike), changes, tempos)
