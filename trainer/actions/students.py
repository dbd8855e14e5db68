"""A teacher's students: what each one practised, what is assigned, and a week reported back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from trainer.archive import routines, students
from trainer.archive.carried_patterns import carrying, has_content, keep_copies, own_files
from trainer.archive.history import (
    fastest_clean,
    histories_by_pattern,
    minutes_by_day,
    monday_of,
)
from trainer.archive.session_file import open_session
from trainer.archive.session_list import by_people
from trainer.errors import BadInput, TrainerError
from trainer.file_system import expand_home, read_bytes, read_text, write_file
from trainer.measure.comparison import compare_readings
from trainer.pattern import library
from trainer.results import save_result

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from trainer.archive.session_list import SessionEntry, SessionListing
    from trainer.archive.students import Student, TakenIn
    from trainer.measure.comparison import NumberChange
    from trainer.practice.routine import Routine


LARGEST_TAKE = 2**24
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
class StudentOverview:
    """One student: when last practised, the minutes of this week, the assignment, what breaks.

    `weakness` is the first finding of the newest session that has one, None where there is none;
    `faults` are the files that could not be read.
    """

    student: Student
    last: datetime | None
    minutes: float
    assignment: Routine | None
    aims: tuple[AimResult, ...]
    weakness: dict[str, Any] | None
    faults: tuple[TrainerError, ...]


@dataclass(frozen=True, slots=True)
class PatternWeek:
    """A pattern in a week: minutes, the fastest clean tempo, and what changed from first to last.

    `changes` are the numbers that differ by more than chance; empty with a single session.
    """

    title: str
    minutes: float
    result: AimResult
    changes: tuple[NumberChange, ...]


@dataclass(frozen=True, slots=True)
class WeekReport:
    """A student's week from its Monday on: minutes by day, each pattern, and what to do next."""

    student: Student
    monday: date
    minutes: tuple[float, ...]
    assignment: Routine | None
    patterns: tuple[PatternWeek, ...]
    weakness: dict[str, Any] | None


@dataclass(frozen=True, slots=True)
class TakeInRequest:
    """Files that a student sent; the rest says how recorded takes are read."""

    student: str
    files: tuple[str, ...]
    pattern: str | None = None
    kit: str | None = None
    latency_ms: float | None = None


def overviews(today: date) -> list[StudentOverview]:
    """Return all students, the one who practised longest ago first."""
    found = [overview(one, today) for one in students.load()]
    return sorted(found, key=lambda one: (one.last is not None, one.last and one.last.timestamp()))


def overview(student: Student, today: date) -> StudentOverview:
    """Return one student's overview; files that cannot be read are faults in it."""
    known = students.known_sessions(student)
    entries = _practised(known)
    faults: list[TrainerError] = list(known.faults)
    assignment = None
    try:
        assignment = assignment_for(student, today)
    except BadInput as fault:
        faults.append(fault)
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
        _aims(assignment, entries),
        _weakness(entries),
        tuple(faults),
    )


def assignment_for(student: Student, today: date) -> Routine | None:
    """Return what is assigned for the week of a day: the latest that is not of a later week.

    Raises BadInput where the file cannot be read.
    """
    found = [one for _, one in _assignments(student) if one.week and one.week <= _sunday(today)]
    return max(found, key=lambda one: one.week or date.min, default=None)


def assign(name: str, given: str) -> tuple[Path, tuple[str, ...]]:
    """Put an assignment into a student's folder as one file that carries its own patterns.

    Returns where it is, and the patterns it carries. An older assignment of the same name is kept
    under another one. Raises BadInput.
    """
    student, source = students.find(name), routines.find_routine(given)
    text, carried = _packed(source)
    kept = student.routines / source.name
    if not has_content(kept, text):
        kept = students.free_path(kept)
        write_file(kept, text, own=True)
    keep_copies(carried, student.home / "patterns")
    return kept, tuple(carried)


def pack(given: str, output: Path) -> tuple[Path, tuple[str, ...]]:
    """Write an assignment as one file to send; returns where it is, and the patterns it carries.

    Raises BadInput.
    """
    source = routines.find_routine(given)
    text, carried = _packed(source)
    if output.suffix.lower() != routines.ROUTINE_ENDING:
        raise BadInput("an assignment ends in .toml", where=str(output), fix="rename it")
    return save_result(output, text, [source]), tuple(carried)


def _packed(source: Path) -> tuple[bytes, Mapping[str, bytes]]:
    """Return an assignment with its patterns that do not ship, and those; BadInput for no week."""
    routine = routines.load_routine(source)
    if routine.week is None:
        raise BadInput(
            "does not say for which week it is", where=str(source), fix="write week = 2026-11-30"
        )
    named = [block.pattern for block in routine.blocks if block.pattern and not block.source]
    text = carrying(read_text(source, routines.LARGEST_ROUTINE), own_files(named))
    try:
        return text.encode(), routines.read_routine(text, source.stem).carried
    except BadInput as fault:
        raise fault.at(str(source)) from None


def read_assignment(given: str) -> tuple[Routine, dict[str, str]]:
    """Return the routine of a name or file, and the titles of its patterns by their names in it."""
    routine = routines.load_routine(routines.find_routine(given))
    named = {block.pattern: block.opened for block in routine.blocks if block.pattern}
    return routine, {name: library.load_pattern(path).title for name, path in named.items()}


def take_in(request: TakeInRequest) -> Iterator[TakenIn | TrainerError]:
    """Give what became of each file: taken in, known already, or why it cannot be read.

    Raises BadInput for a student who is not listed.
    """
    from trainer.actions.assess import AssessRequest, take_as_session
    from trainer.actions.replay import is_take

    student = students.find(request.student)
    others = students.load()
    for given in request.files:
        path = expand_home(given)
        try:
            if is_take(path):
                pattern = request.pattern or _likely_pattern(student, path, request)
                how = AssessRequest(path, pattern, kit=request.kit, latency_ms=request.latency_ms)
                data = read_bytes(path, LARGEST_TAKE)
                yield students.take_in_take(student, path, data, take_as_session(how))
            else:
                yield students.take_in_session(student, path, others)
        except TrainerError as fault:
            yield fault


def _likely_pattern(student: Student, path: Path, request: TakeInRequest) -> str:
    """Return the pattern that a take surely is, of the assignment or else of all; or BadInput."""
    from trainer.actions.recognise import RecogniseRequest, recognise

    assigned = {
        library.load_pattern(block.opened).name: block.opened
        for _, one in _assignments(student)
        for block in one.blocks
        if block.pattern
    }
    for among in (tuple(assigned.values()), None):
        found = recognise(RecogniseRequest(path, among, request.kit, request.latency_ms))
        if found.guesses and (found.sure or among):
            name = found.guesses[0].names[0]
            return assigned.get(name, name)
    names = ", ".join(one.names[0] for one in found.guesses[:3]) or "none fits"
    raise BadInput(
        f"it is not sure which pattern this is ({names})",
        where=str(path),
        fix="say which one with --pattern",
    )


def week_report(name: str, day: date) -> WeekReport:
    """Return the report of a student's week; raises BadInput for one who is not listed."""
    student = students.find(name)
    monday = monday_of(day)
    entries = _practised(students.known_sessions(student))
    week = [one for one in entries if monday_of(one.started.astimezone().date()) == monday]
    by_day = minutes_by_day(week)
    assignment = assignment_for(student, day)
    aims = {one.pattern: one for one in _aims(assignment, week)}
    rows = [
        PatternWeek(
            history.title,
            history.seconds / 60,
            aims.get(history.name) or _result(history.name, history.title, None, week),
            _first_to_last(history.entries),
        )
        for history in histories_by_pattern(week)
    ]
    played = {one.result.pattern for one in rows}
    rows += [
        PatternWeek(one.title, 0.0, one, ()) for one in aims.values() if one.pattern not in played
    ]
    days = tuple(by_day.get(monday + timedelta(days=place), 0.0) for place in range(7))
    return WeekReport(student, monday, days, assignment, tuple(rows), _weakness(week))


def _sunday(day: date) -> date:
    return monday_of(day) + timedelta(days=6)


def _practised(known: SessionListing) -> list[SessionEntry]:
    """Return the sessions in which the student played, the oldest first; no simulated ones."""
    return [one for one in by_people(known.entries) if one.strikes]


def _assignments(student: Student) -> Iterator[tuple[Path, Routine]]:
    for path in sorted(student.routines.glob(f"*{routines.ROUTINE_ENDING}")):
        yield path, routines.load_routine(path)


def _aims(assignment: Routine | None, entries: Sequence[SessionEntry]) -> tuple[AimResult, ...]:
    """Return the aim of each pattern of an assignment, the last one where it has several."""
    found: dict[str, AimResult] = {}
    for block in assignment.blocks if assignment else ():
        if block.pattern:
            pattern = library.load_pattern(block.opened)
            aim = block.aim or _known_aim(found, pattern.name)
            found[pattern.name] = _result(pattern.name, pattern.title, aim, entries)
    return tuple(found.values())


def _known_aim(found: dict[str, AimResult], name: str) -> float | None:
    return found[name].aim if name in found else None


def _result(name: str, title: str, aim: float | None, entries: Sequence[SessionEntry]) -> AimResult:
    own = [one for one in entries if one.pattern == name]
    best = fastest_clean(own) if own else None
    return AimResult(name, title, aim, best.clean_tempo if best else None, bool(own))


def _weakness(entries: Sequence[SessionEntry]) -> dict[str, Any] | None:
    """Return the first finding of advice in the newest session that has one, as it was saved."""
    for entry in entries[-1 : -MOST_LOOKED_AT - 1 : -1]:
        try:
            summary = open_session(entry.path).summary
        except TrainerError:
            continue
        if summary and summary.get("advice"):
            return dict(summary["advice"][0])
    return None


def _first_to_last(entries: Sequence[SessionEntry]) -> tuple[NumberChange, ...]:
    """Return what differs between the first and the last session by more than chance would do."""
    if len(entries) < 2:
        return ()
    try:
        first, last = (open_session(entries[place].path).summary for place in (0, -1))
    except TrainerError:
        return ()
    return tuple(one for one in compare_readings(first or {}, last or {}) if one.beyond_chance)


def save_page(path: Path, picture: str) -> Path:
    """Save a page as SVG, or as PDF by the end of its name, and return where it is.

    Raises BadInput for another end.
    """
    if path.suffix.lower() == ".pdf":
        from trainer.pattern.formats.sheet_print import to_pdf

        return save_result(path, to_pdf([picture]))
    if path.suffix.lower() == ".svg":
        return save_result(path, picture)
    raise BadInput("a page is .svg or .pdf", where=str(path), fix="end its name in one of them")
