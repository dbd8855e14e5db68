"""Pages about students: all of them, one's week, and the ways to assign, take in and report."""

from __future__ import annotations

from datetime import date
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.actions import student_week
from trainer.actions import students as actions
from trainer.actions.students import TakeInRequest
from trainer.archive import routines, students
from trainer.archive.history import monday_of
from trainer.errors import BadInput
from trainer.file_system import expand_home, is_file
from trainer.pattern import library
from trainer.show import student_words as words
from trainer.show.page import (
    ChooseQuestion,
    Page,
    PageAct,
    PagePart,
    TextQuestion,
    paragraphs,
    refused_by,
)
from trainer.show.session_words import day_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from trainer.show.page import ReportProgress

STUDENTS_GUIDE = (
    "Each student has a folder for the sessions they send. Their week is read from it. Enter "
    "opens the week under the cursor. n lists a student, a assigns a routine with a week. f takes "
    "in a session or a recorded take. Nothing of one goes into another's folder."
)
UNBROKEN = 10_000
"""Columns of a line that the page itself breaks."""

WEEK_GUIDE = (
    "What was practised this week, what is clean at which tempo. And what is next. w writes the "
    "page for the student or a parent."
)


def student_page(_port: str) -> Page:
    """Return the page of all students."""
    return Page(
        "Students: what they practised and what is assigned",
        STUDENTS_GUIDE,
        "trainer student",
        _students,
        (
            PageAct("enter", "Week", "This week of the student under the cursor", _week),
            PageAct("n", "New student", "List a student", _add, (_name,)),
            PageAct("a", "Assign", "Put a routine into the student's folder", _assign, (_which,)),
            PageAct(
                "f",
                "Take in",
                "A session or a take that the student sent",
                _take_in,
                (_file, _which_pattern),
            ),
            PageAct("x", "Remove", "Take the student off the list", _remove, (_sure,)),
        ),
    )


def _students(progress: ReportProgress) -> Iterator[PagePart]:
    progress("reading the sessions …")
    today = _today()
    found = student_week.overviews(today)
    if not found:
        yield PagePart(words.NO_STUDENTS, ("or press n",))
    for one in found:
        head, *lines = words.student_lines(one, today, UNBROKEN)
        yield PagePart(head, tuple(lines), one.student.name)


def _week(name: str) -> Page:
    _check(name)

    def make(progress: ReportProgress) -> Iterator[PagePart]:
        progress("reading the sessions …")
        lines = words.report_lines(student_week.week_report(name, _today()), UNBROKEN)
        return paragraphs(islice(lines, 1, None))  # the first is the page's title

    def write(_under: str, file: str) -> str:
        picture = words.report_picture(student_week.week_report(name, _today()))
        return f"written: {actions.save_page(expand_home(file), picture.source()).absolute()}"

    return Page(
        f"{name}, week of {day_words(monday_of(_today()))}",
        WEEK_GUIDE,
        f"trainer student report {name}",
        make,
        (PageAct("w", "Write page", "The week as a picture or a PDF", write, (_page_file(name),)),),
    )


def _page_file(name: str) -> Callable[[str], TextQuestion]:
    return lambda _under: TextQuestion(
        "Write the page to which file?", f"{name}.pdf", _page_refusal
    )


def _page_refusal(file: str) -> str:
    return "" if Path(file).suffix.lower() in (".pdf", ".svg") else "End its name in .pdf or .svg."


def _today() -> date:
    return date.today()


def _check(name: str) -> None:
    if not name:
        raise BadInput("there is no student here", fix="press n to list one")


def _name(_under: str) -> TextQuestion:
    return TextQuestion(
        "What is the student's name?",
        "",
        refused_by(lambda name: students.check_name(name, students.load())),
    )


def _add(_under: str, name: str) -> str:
    return f"{name}: {students.add(name).home}"


def _which(name: str) -> ChooseQuestion:
    _check(name)
    known = [(str(path), path.stem) for path in routines.known_routines()]
    if not known:
        raise BadInput("there is no routine to assign", fix="write one: t on the first screen")
    return ChooseQuestion(f"Which routine for {name}?", known)


def _assign(name: str, routine: str) -> str:
    kept, copied = actions.assign(name, routine)
    return "\n".join([str(kept), *(f"with {one}" for one in copied)])


def _file(name: str) -> TextQuestion:
    _check(name)
    return TextQuestion(
        f"Which file did {name} send?",
        "",
        lambda path: "" if is_file(expand_home(path)) else "There is no such file.",
    )


def _which_pattern(_under: str, file: str) -> ChooseQuestion | None:
    if Path(file).suffix.lower() not in (".mid", ".midi"):
        return None
    choices = [(one.name, one.title) for one in library.catalogue() if not one.fault]
    return ChooseQuestion("What was played in it?", choices)


def _take_in(name: str, file: str, pattern: str | None = None) -> str:
    request = TakeInRequest(name, (file,), pattern)
    return "\n".join(words.taken_in_line(one) for one in actions.take_in(request))


def _sure(name: str) -> ChooseQuestion:
    _check(name)
    return ChooseQuestion(
        f"Take “{name}” off the list? The files stay.", (("no", "keep"), ("yes", "remove"))
    )


def _remove(name: str, sure: str) -> str | None:
    if sure == "yes":
        return f"{name}: off the list. The files stay in {students.remove(name).home}"
    return None
