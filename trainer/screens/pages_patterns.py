"""Pages about what to play: goals, routines, and patterns for the music stand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.actions.history import add_goal, best_pattern, margins_of_goals
from trainer.actions.patterns import SHEET_SUFFIXES, SheetRequest, write_sheet
from trainer.actions.playing_on import kit_ahead
from trainer.actions.requests import LadderRequest, PlayedOn, RoutineRequest, setup_on
from trainer.actions.ways import find_way, rate_of, states_of_ways
from trainer.archive import goals, routines
from trainer.archive.goals import Goal
from trainer.archive.session_list import list_sessions
from trainer.errors import BadInput
from trainer.file_system import expand_home
from trainer.pattern import description, library
from trainer.pattern.description import value_words
from trainer.pattern.formats import tab
from trainer.pattern.model import USUAL_VALUES
from trainer.practice.routine import RoutineProgress
from trainer.settings import existing_recordings_folder
from trainer.show.drawing import rate_scale
from trainer.show.history_words import NO_GOALS, goal_lines, margin_lines
from trainer.show.page import (
    ChooseQuestion,
    Page,
    PageAct,
    PagePart,
    TextQuestion,
    number_refused_by,
    paragraphs,
    refused_by,
)
from trainer.show.pattern_words import way_line, way_lines
from trainer.show.session_words import overview

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.archive.ceilings import Climb
    from trainer.measure.ceiling import Margin
    from trainer.pattern.ways import Way
    from trainer.show.page import ReportProgress

SCALE_COLUMNS = 60

GOAL_GUIDE = (
    "The tempos you need, against the ceilings of your ladders. ┃ is what the piece needs, ● your "
    "ceiling. ├ and ┤ are the ends of its interval. What is right of ┃ is your margin. Safe: at "
    "least 10% in reserve, at the low end too. In reach: the high end is at or above your need. "
    "Above: not yet."
)
ROUTINE_GUIDE = (
    "Your routines, each a small file in the routines folder. It has blocks of warm-up, ladder, "
    "open block and rest. Enter opens the one under the cursor. n writes a new one around a "
    "pattern, for you to change."
)
SHEET_GUIDE = (
    "Enter puts a pattern on the page, or takes it off again. p writes the page in the order you "
    "chose, and says where. Its ending says what it becomes: .pdf, .svg, .html or .musicxml. The "
    "MusicXML beside it opens in any notation program."
)

WAY_GUIDE = (
    "Ways lead from pattern to pattern. Each step says what it is for. Have it clean at its tempo "
    "before the next one. Enter opens a way, and plays a step in it. Nothing is locked. When a "
    "step gets no faster, the way back is named."
)
TAB_GUIDE = (
    "The pattern as drummers write tab: steps across, voices down, the sticking below. What it is "
    "comes first."
)


def goal_page(port: str) -> Page:
    """Return the page of the goals."""

    def climb(name: str) -> LadderRequest:
        pattern = best_pattern(existing_recordings_folder(), name)
        return LadderRequest(pattern, setup=setup_on(port))

    return Page(
        "Goals: the tempos you need, against what stays clean",
        GOAL_GUIDE,
        "trainer goal",
        _goals,
        (
            PageAct("enter", "Ladder", "Climb the pattern that comes nearest to the goal", climb),
            PageAct(
                "n", "New goal", "Keep a goal: its name, tempo and note value", _add, QUESTIONS
            ),
            PageAct("x", "Forget", "Forget the goal under the cursor", _forget, (_sure,)),
        ),
    )


def _goals(progress: ReportProgress) -> Iterator[PagePart]:
    """Give each goal with its margins, each as a line and as words."""
    progress("reading the ladders …")
    rows = margins_of_goals(existing_recordings_folder())
    if not rows:
        yield PagePart(NO_GOALS, ("or press n",))
    for one in rows:
        head, *lines = goal_lines(one)
        drawn = [
            line
            for words, row in zip(margin_lines(one), one.margins, strict=True)
            for line in (words[0], _drawn(row), *words[1:])
        ]
        yield PagePart(head, tuple(drawn or lines), one.goal.name)


def _drawn(row: tuple[Climb, Margin]) -> str:
    one = row[1]
    low, high = ((1 + share) * one.asked for share in (one.low, one.high))
    return "  " + rate_scale(one.asked, low, one.ceiling, high, SCALE_COLUMNS)


def _which_value(*_answers: str) -> ChooseQuestion:
    choices = [(name, value_words(name)) for name in USUAL_VALUES]
    return ChooseQuestion("Which note value at that tempo?", choices, "16")


QUESTIONS = (
    lambda *_: TextQuestion("What is the piece, or the passage, called?"),
    lambda *_: TextQuestion(
        "At which tempo (quarters a minute)?",
        "",
        number_refused_by(lambda tempo: goals.check(Goal("a goal", tempo, "16"))),
    ),
    _which_value,
)


def _add(_under: str, name: str, tempo: str, value: str) -> str:
    return f"{name}: {add_goal(Goal(name, float(tempo), value)):.1f} strokes a second."


def _sure(name: str) -> ChooseQuestion:
    if not name:
        raise BadInput("there is no goal here", fix="keep one first")
    return ChooseQuestion(f"Forget “{name}”?", (("no", "keep it"), ("yes", "forget it")))


def _forget(name: str, sure: str) -> str | None:
    """Forget a goal, when that is meant."""
    if sure == "yes":
        goals.remove(name)
        return f"{name}: forgotten."
    return None


def routine_page(port: str) -> Page:
    """Return the page of all routines."""

    def open_it(path: str) -> RoutineRequest:
        if not path:
            raise BadInput("there is no routine yet", fix="press n to make one")
        return RoutineRequest(path, setup=setup_on(port))

    return Page(
        "Routines: several blocks in one practice",
        ROUTINE_GUIDE,
        "trainer routine FILE --check",
        _routines,
        (
            PageAct("enter", "Open", "See how far it is and continue", open_it),
            PageAct("n", "New", "Write a routine around a pattern", _begin, (_name, _around)),
        ),
    )


def _routines(_progress: ReportProgress) -> Iterator[PagePart]:
    found = routines.known_routines()
    for path in found:
        yield _routine_part(path)
    if not found:
        yield PagePart("No routine yet.", ("Press n to write one around a pattern you practise.",))


def _routine_part(path: Path) -> PagePart:
    try:
        routine = routines.load_routine(path)
    except BadInput as fault:
        return PagePart(path.stem, tuple(str(fault).splitlines()), str(path))
    progress = routines.RoutineProgressFile(path, routine).progress()
    head, *blocks = overview(routine)
    if progress != RoutineProgress():
        head += f"; continues with block {progress.block + 1}"
    return PagePart(head, tuple(blocks), str(path))


def _name(_under: str) -> TextQuestion:
    return TextQuestion(
        "What is the routine to be called?", "evening", refused_by(routines.check_routine_name)
    )


def _around(_under: str, _name: str) -> ChooseQuestion:
    entries = list_sessions(existing_recordings_folder()).entries
    choices = [(one.name, one.title) for one in library.catalogue() if not one.fault]
    return ChooseQuestion(
        "Around which pattern?", choices, entries[-1].pattern if entries else None
    )


def _begin(_under: str, name: str, pattern: str) -> str:
    return f"Written: {routines.begin_routine(name, pattern)}"


def way_page(port: str) -> Page:
    """Return the page of all ways, the one practised last first."""

    def make(progress: ReportProgress) -> Iterator[PagePart]:
        progress("reading the sessions …")
        found = states_of_ways(existing_recordings_folder())
        for one in found.ways:
            where = way_line(one, library.title_of)
            yield PagePart(where, (f"  {one.way.about}",), one.way.name)
        yield from (PagePart(str(fault)) for fault in found.faults)

    def open_it(name: str) -> Page:
        if not name:
            raise BadInput("there is no way here", fix="put the cursor on one")
        return _one_way(find_way(existing_recordings_folder(), name).way, port)

    act = PageAct("enter", "Open", "The steps of the way under the cursor", open_it)
    return Page("Ways through the patterns", WAY_GUIDE, "trainer way", make, (act,))


def _one_way(way: Way, port: str) -> Page:
    """Return the page of one way; enter plays the step under the cursor a little slower."""

    def make(progress: ReportProgress) -> Iterator[PagePart]:
        progress("reading the sessions …")
        one = find_way(existing_recordings_folder(), way.name)
        rates = [rate_of(state.step) for state in one.steps]
        parts = [*paragraphs(way_lines(one, rates, library.title_of))]
        steps = len(parts) - len(one.steps)
        yield from parts[1:steps]  # what the way is about; its title is the page's
        for part, state in zip(parts[steps:], one.steps, strict=True):
            yield replace(part, name=state.step.pattern)

    def play(pattern: str) -> LadderRequest:
        if not pattern:
            raise BadInput("there is no step here", fix="put the cursor on one")
        return LadderRequest(pattern, setup=setup_on(port))

    act = PageAct("enter", "Ladder", "Climb the pattern of the step under the cursor", play)
    return Page(way.title, WAY_GUIDE, f"trainer way {way.name}", make, (act,))


def sheet_page(_port: str) -> Page:
    """Return the page that lists all patterns; what is chosen lasts as long as it is open."""
    chosen: list[str] = []

    def make(_progress: ReportProgress) -> Iterator[PagePart]:
        for one in library.catalogue():
            if not one.fault:
                place = f"{chosen.index(one.name) + 1:>2}" if one.name in chosen else " ·"
                yield PagePart(f"{place}  {one.title}", name=one.name)

    def put(name: str) -> None:
        chosen.remove(name) if name in chosen else chosen.append(name)

    def where(under: str) -> TextQuestion:
        name = (chosen or [under])[0]
        return TextQuestion("Write the page to which file?", f"{name}.pdf", _sheet_refusal)

    def print_it(under: str, file: str) -> str:
        paths = write_sheet(SheetRequest(chosen or [under], expand_home(file)))
        return "\n".join(f"written: {path.absolute()}" for path in paths)

    return Page(
        "Print patterns for the music stand",
        SHEET_GUIDE,
        "trainer sheet PATTERN ... -o FILE",
        make,
        (
            PageAct("enter", "Put on the page", "Put the pattern on the page, or take it off", put),
            PageAct("p", "Print", "Write the page into a file", print_it, (where,)),
        ),
    )


def _sheet_refusal(file: str) -> str:
    if Path(file).suffix.lower() in SHEET_SUFFIXES:
        return ""
    return "End its name in .pdf, .svg, .html or .musicxml."


def tab_page(name: str) -> Page:
    """Return the page of a pattern by its name."""

    def make(_progress: ReportProgress) -> Iterator[PagePart]:
        kit = kit_ahead(PlayedOn())
        pattern = library.load_pattern(name, kit)
        first, *rest = description.description_lines(pattern, without=kit.without)
        yield PagePart(first, tuple(rest))
        yield from map(PagePart, tab.to_tab(pattern))

    return Page(f"{name} as tab", TAB_GUIDE, f"trainer patterns show {name}", make)
