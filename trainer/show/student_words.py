"""A teacher's students in words and on paper: one page for all, an assignment, a week's report.

The paper is a picture of A4's proportions. It names the student and what was practised, in words a
parent can read; it reads without colour.
"""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from trainer.archive.history import monday_of
from trainer.errors import TrainerError
from trainer.practice.routine import FREE, REST
from trainer.show.number_words import count_text
from trainer.show.reading_words import weakness_words
from trainer.show.session_words import date_words, day_words
from trainer.show.svg import Picture

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date

    from trainer.actions.student_week import (
        AimResult,
        FirstToLast,
        PatternWeek,
        StudentOverview,
        Weakness,
        WeekReport,
    )
    from trainer.archive.students import TakenIn
    from trainer.practice.routine import Block, Routine

NO_STUDENTS = 'No students yet: trainer student add "Name"'
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
TAKEN_IN_WORDS = {
    "new": "taken in",
    "known": "known already, nothing changed",
    "completed": "was cut off, now complete",
    "cut off": "taken in, but cut off; it counts once the whole one is sent",
}

WIDE, TALL, LEFT, RIGHT = 794, 1123, 60, 734
"""The paper in pixels (A4 at 96 to the inch), and where its text begins and ends."""
LETTERS, COLUMNS = 92, 79
"""Letters in a line of the paper, and columns of a line of text."""
BOX = 14


def overview_lines(found: Sequence[StudentOverview], today: date) -> Iterator[str]:
    """Give all students, the one who practised longest ago first."""
    if not found:
        yield NO_STUDENTS
    for one in found:
        yield from student_lines(one, today)


def student_lines(one: StudentOverview, today: date, columns: int = COLUMNS) -> Iterator[str]:
    """Give one student: the name, then what was practised, assigned and clean, and what breaks."""
    yield from _fitted(_student_lines(one, today), columns)


def _fitted(lines: Iterable[str], columns: int = COLUMNS) -> Iterator[str]:
    """Give lines of so many columns at most; what does not fit continues indented."""
    for line in lines:
        indent = " " * (len(line) - len(line.lstrip()))
        yield from wrap(
            line.strip(), columns, initial_indent=indent, subsequent_indent=indent + "    "
        )


def _student_lines(one: StudentOverview, today: date) -> Iterator[str]:
    last = date_words(one.last, today) if one.last else "never"
    yield f"{one.student.name}: last practised {last}, {_minutes(one.minutes)} this week"
    if one.assignment:
        yield f"  assigned: {one.assignment.title}"
        yield from (f"    {aim_words(aim)}" for aim in one.aims)
    else:
        yield "  nothing assigned"
    if one.last:
        yield f"  breaks first: {breaking_words(one.weakness)}"
    yield from (f"  passed over: {fault}" for fault in one.faults)


def breaking_words(one: Weakness) -> str:
    """Return what breaks first and in how many sessions, or why that is not known."""
    if one.finding:
        faults = " and ".join(one.finding["faults"])
        often = f" ({one.times} of {count_text(one.sessions, 'session')})" if one.sessions else ""
        return f"{weakness_words(one.finding)}, {faults}{often}"
    return "no weak point found" if one.sessions else "too few strokes to say"


def aim_words(one: AimResult) -> str:
    """Return a pattern, and what is clean of it against the aim where there is one."""
    return f"{one.title}: {_clean_words(one)}"


def _clean_words(one: AimResult) -> str:
    clean = f"clean at {one.fastest:g} BPM" if one.fastest else "not clean yet"
    clean = clean if one.played else "not played yet"
    if one.aim is None:
        return clean
    return f"{clean}, aim {one.aim:g} BPM{', reached' if one.reached else ''}"


def taken_in_line(one: TakenIn | TrainerError) -> str:
    """Return what became of one file that a student sent."""
    if isinstance(one, TrainerError):
        return f"not taken in: {one}"
    read_as = f" as {one.title}" if one.title else ""
    return f"{one.sent.name}: {TAKEN_IN_WORDS[one.kind]}{read_as} ({one.kept.name})"


def report_lines(report: WeekReport, columns: int = COLUMNS) -> Iterator[str]:
    """Give a week: minutes by day, each pattern, and what to practise next."""
    yield from _fitted(_report_lines(report), columns)


def _report_lines(report: WeekReport) -> Iterator[str]:
    yield f"{report.student.name}, week of {day_words(report.monday)}"
    yield from _minutes_lines(report)
    if report.assignment:
        yield f"Assigned: {report.assignment.title}"
    for one in report.patterns:
        yield from _pattern_lines(one)
    yield from (f"Next: {line}" for line in _next_lines(report))
    yield from (f"passed over: {fault}" for fault in report.faults)


def _minutes_lines(report: WeekReport) -> Iterator[str]:
    played = [
        f"{day} {minutes:.0f}" for day, minutes in zip(DAYS, report.minutes, strict=True) if minutes
    ]
    if not played:
        yield "Nothing was practised."
        return
    days = count_text(len(played), "day")
    yield f"Practised: {_minutes(sum(report.minutes))} on {days} ({', '.join(played)})"


def _pattern_lines(one: PatternWeek) -> Iterator[str]:
    yield one.title
    yield f"  {_clean_words(one.result)}" + (f"; {_minutes(one.minutes)}" if one.minutes else "")
    yield from (f"  {line}" for line in _change_lines(one.compared))


def _change_lines(compared: FirstToLast) -> Iterator[str]:
    """Give what got better or worse from the first session of the week to the last, or why not."""
    if compared.sessions < 2:
        if compared.sessions:
            yield "first to last session: one session, nothing to compare"
        return
    if compared.changes is None:
        yield "first to last session: too few strokes to compare"
        return
    tempos = [f"{tempo:.4g}" for tempo in compared.tempos or ()]
    at = f" ({tempos[0]} and {tempos[1]} BPM)" if len(set(tempos)) > 1 else ""
    if not compared.changes:
        yield f"first to last session{at}: nothing changed more than chance would do"
    for one in compared.changes:
        verdict = {True: "better", False: "worse", None: "changed"}[one.better]
        first, last = (
            f"{figure.value or 0.0:.0f} {figure.unit}".strip().replace(" %", "%")
            for figure in (one.first, one.second)
        )
        yield f"{verdict}: {one.name}, {first} at first, {last} at last{at}"


def _next_lines(report: WeekReport) -> Iterator[str]:
    """Give at most three things to do next."""
    open_aims = [one.result for one in report.patterns if one.result.aim and not one.result.reached]
    steps = [
        f"{one.title}: slower than {one.aim:g} BPM until it is clean, then up"
        for one in open_aims[:2]
    ]
    if report.weakness.finding:
        steps.append(f"the weakest point: {breaking_words(report.weakness)}")
    if any(one.result.aim for one in report.patterns) and not open_aims:
        steps.append("Every aim is reached: time for the next assignment")
    yield from steps[:3]


def _minutes(minutes: float) -> str:
    return "under a minute" if 0 < minutes < 1 else count_text(round(minutes), "minute")


class _Paper:
    """A page that is written from top to bottom."""

    def __init__(self, title: str) -> None:
        self.sheet = Picture(WIDE, TALL, title)
        self.down = 40.0
        self.write(title, "heading", 30)

    def write(self, text: str, kind: str = "", step: float = 20, indent: float = 0) -> None:
        """Write a text over as many lines as it needs; what has no room any more is left out."""
        for line in wrap(text, LETTERS - int(indent / 7)) or [""]:
            if self.down > TALL - 40:
                return
            self.down += step
            self.sheet.text(LEFT + indent, self.down, line, kind)

    def boxes(self, count: int, labels: Sequence[str] = ()) -> None:
        """Draw boxes to tick, each with its label above it."""
        self.down += 24 if labels else 10
        for place in range(count):
            x = LEFT + 20 + place * 44.0
            if labels:
                self.sheet.text(x + BOX / 2, self.down - 6, labels[place], "faint", "middle")
            self.sheet.shape("rect", "axis", x=x, y=self.down, width=float(BOX), height=float(BOX))
        self.down += BOX

    def rule(self) -> None:
        """Draw a thin line across."""
        self.down += 14
        ends = (float(LEFT), float(RIGHT))
        self.sheet.shape("line", "axis", x1=ends[0], x2=ends[1], y1=self.down, y2=self.down)


def assignment_picture(routine: Routine, student: str = "") -> Picture:
    """Return an assignment on paper: each block with its aim and seven boxes to tick."""
    paper = _Paper(f"{student}: {routine.title}" if student else routine.title)
    if routine.week:
        monday = day_words(monday_of(routine.week))
        paper.write(f"Week of {monday}, {_minutes(routine.minutes)} a day")
    if routine.word:
        paper.write(routine.word, step=22)
    for number, block in enumerate(routine.blocks, 1):
        paper.rule()
        name, how = block_words(block)
        paper.write(f"{number}. {name}", "strong", 24)
        paper.write(how, indent=20)
        if block.kind != REST:
            paper.boxes(len(DAYS), DAYS)
    paper.rule()
    paper.write("Tick a box when the block was played. Rest in between; stop if it hurts.", "faint")
    return paper.sheet


def block_words(block: Block) -> tuple[str, str]:
    """Return a block of an assignment in words: what, and how long and to which tempo."""
    minutes = _minutes(block.minutes)
    if block.kind in (REST, FREE):
        return {REST: "Rest", FREE: "Play what you like to the click"}[block.kind], minutes
    start = block.tempo or block.start
    parts = [minutes]
    parts += [f"from {start:g} BPM"] if start else []
    parts += [f"to be clean at {block.aim:g} BPM"] if block.aim else []
    return block.title, ", ".join(parts)


def assignment_lines(routine: Routine) -> Iterator[str]:
    """Give an assignment: its week, the teacher's word, and each block."""
    yield routine.title
    if routine.week:
        yield f"Week of {day_words(monday_of(routine.week))}, {_minutes(routine.minutes)} a day"
    yield from _fitted([routine.word] if routine.word else [])
    for number, block in enumerate(routine.blocks, 1):
        name, how = block_words(block)
        yield from _fitted([f"{number}. {name}", f"   {how}"])


def report_picture(report: WeekReport) -> Picture:
    """Return a week on paper, for a parent: what was practised, what is clean, what is next."""
    paper = _Paper(f"{report.student.name}, week of {day_words(report.monday)}")
    for line in _minutes_lines(report):
        paper.write(line)
    _draw_days(paper, report)
    if report.assignment:
        paper.write(f"Assigned: {report.assignment.title}", step=26)
    for one in report.patterns:
        paper.rule()
        paper.write(one.title, "strong", 24)
        for line in list(_pattern_lines(one))[1:]:
            paper.write(line.strip(), indent=20)
    paper.rule()
    paper.write("Next", "strong", 26)
    for line in _next_lines(report):
        paper.write(line, indent=20)
    paper.rule()
    paper.write(
        "Clean: every written stroke played, in time and evenly loud. BPM: beats a minute.",
        "faint",
    )
    return paper.sheet


def _draw_days(paper: _Paper, report: WeekReport) -> None:
    """Draw a column a day, as high as its minutes."""
    most, high, wide = max([*report.minutes, 1.0]), 70.0, 70.0
    foot = paper.down + high + 30
    for place, (day, minutes) in enumerate(zip(DAYS, report.minutes, strict=True)):
        x, tall = LEFT + 20 + place * (wide + 20), high * minutes / most
        if minutes:
            paper.sheet.shape("rect", "band", x=x, y=foot - tall, width=wide, height=tall)
            paper.sheet.text(x + wide / 2, foot - tall - 4, f"{minutes:.0f}", "", "middle")
        paper.sheet.text(x + wide / 2, foot + 16, day, "faint", "middle")
    paper.down = foot + 24
