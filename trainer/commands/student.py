"""`trainer student`: a folder a student, what they send and what is assigned, a week reported."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from trainer import console
from trainer.errors import BadInput
from trainer.file_system import expand_home

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add the actions on students."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    actions.add_parser("list", help="all students on one page (also with no action)")
    add = actions.add_parser("add", help="list a student")
    add.add_argument("--folder", default="", metavar="DIR", help="a folder that exists already")
    remove = actions.add_parser("remove", help="take a student off the list; files stay")
    show = actions.add_parser("show", help="one student")
    take = actions.add_parser("take", help="take in sessions or recorded takes (.mid)")
    assign = actions.add_parser("assign", help="put a week's routine into a student's folder")
    pack = actions.add_parser("pack", help="a week's routine as one file to send")
    sheet = actions.add_parser("print", help="a week's routine on paper, with boxes to tick")
    report = actions.add_parser("report", help="a week reported back, on screen or on paper")
    for one in (add, remove, show, take, assign, report):
        one.add_argument("name", metavar="NAME", help="the student's name")
    take.add_argument("files", nargs="+", metavar="FILE", help="what the student sent")
    take.add_argument("--pattern", metavar="P", help="what was played in a recorded take")
    take.add_argument("--kit", metavar="NAME", help="read recorded takes through this kit")
    take.add_argument("--latency", type=float, metavar="MS", help="how late that kit is, in ms")
    for one in (assign, pack, sheet):
        one.add_argument("routine", metavar="ROUTINE", help="a routine's name, or its file")
    sheet.add_argument("--student", default="", metavar="NAME", help="whose name is on top")
    report.add_argument("--week", metavar="DAY", help="any day of the week (default: today)")
    pack.add_argument("-o", "--output", required=True, metavar="FILE", help="a new .toml file")
    for one in (sheet, report):
        one.add_argument("-o", "--output", metavar="FILE", help="a picture (.svg) or a .pdf")


def run(args: Namespace) -> int:
    """Do one action; the overview of all without one."""
    from trainer.actions import student_week
    from trainer.actions import students as actions
    from trainer.archive import students
    from trainer.show import student_words as words

    today = date.today()
    status = 0
    match args.action:
        case "add":
            one = students.add(args.name, args.folder)
            console.print_line(f"{one.name}: {one.home}")
        case "remove":
            one = students.remove(args.name)
            console.print_line(f"{one.name}: off the list. The files stay in {one.home}")
        case "show":
            found = student_week.overview(students.find(args.name), today)
            console.print_lines(words.student_lines(found, today))
        case "take":
            status = _take(args)
        case "assign":
            kept, carried = actions.assign(args.name, args.routine)
            console.print_line(f"{args.name}: {kept}")
            console.print_lines(f"  with {name}" for name in carried)
        case "pack":
            kept, carried = actions.pack(args.routine, expand_home(args.output))
            console.print_line(f"Saved {kept}")
            console.print_lines(f"  with {name}" for name in carried)
        case "print":
            _print(args)
        case "report":
            _report(args, _day(args.week) if args.week else today)
        case _:
            console.print_lines(words.overview_lines(student_week.overviews(today), today))
    return status


def _take(args: Namespace) -> int:
    """Take files in; a line each, and status 1 where one of them could not be."""
    from trainer.actions.students import TakeInRequest, take_in
    from trainer.errors import TrainerError
    from trainer.show.student_words import taken_in_line

    request = TakeInRequest(args.name, tuple(args.files), args.pattern, args.kit, args.latency)
    status = 0
    for one in take_in(request):
        console.print_line(taken_in_line(one))
        status = 1 if isinstance(one, TrainerError) else status
    return status


def _print(args: Namespace) -> None:
    from trainer.archive.routines import find_routine, load_routine
    from trainer.show.student_words import assignment_lines, assignment_picture

    routine = load_routine(find_routine(args.routine))
    if args.output:
        _save(args.output, assignment_picture(routine, args.student).source())
        return
    console.print_lines(assignment_lines(routine))


def _report(args: Namespace, day: date) -> None:
    from trainer.actions.student_week import week_report
    from trainer.show.student_words import report_lines, report_picture

    report = week_report(args.name, day)
    if args.output:
        _save(args.output, report_picture(report).source())
    else:
        console.print_lines(report_lines(report))


def _save(output: str, picture: str) -> None:
    from trainer.actions.students import save_page

    console.print_line(f"Saved {save_page(expand_home(output), picture)}")


def _day(text: str) -> date:
    try:
        return datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise BadInput(f'"{text[:40]}" is no day', where="--week", fix="write 2026-11-30") from None
