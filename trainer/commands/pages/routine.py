"""The player's routines on the screen, to choose one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.archive import routines
from trainer.archive.routines import RoutineProgressFile, load_routine
from trainer.archive.session_list import list_sessions
from trainer.errors import BadInput
from trainer.pattern import library
from trainer.practice.routine import RoutineProgress
from trainer.settings import existing_recordings_folder
from trainer.show.page import ChooseQuestion, Page, PageAct, PagePart, RunCommand, TextQuestion
from trainer.show.page import ReportProgress as Told
from trainer.show.routine_words import overview

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

GUIDE = (
    "Your routines, each a small TOML file in the routines folder: blocks of warm-up, ladder, free "
    "play and rest with their minutes. Enter opens the one under the cursor; n writes a new one "
    "around a pattern, to be changed by hand."
)


def page(port: str) -> Page:
    """Return the page of all routines."""

    def open_it(path: str) -> RunCommand:
        if not path:
            raise BadInput("there is no routine yet", mend="press n to make one")
        return RunCommand(("routine", path, "--port", port))

    return Page(
        "Routines: one sitting of several blocks",
        GUIDE,
        "trainer routine FILE --check",
        _tell,
        (
            PageAct("enter", "Open", "See where it stands and go on", open_it),
            PageAct("n", "New", "Write a routine around a pattern", _begin, (_name, _pattern)),
        ),
    )


def _tell(_progress: Told) -> Iterator[PagePart]:
    found = routines.known_routines()
    for path in found:
        yield _part(path)
    if not found:
        yield PagePart("No routine yet.", ("Press n to write one around a pattern you practise.",))


def _part(path: Path) -> PagePart:
    try:
        routine = load_routine(path)
    except BadInput as fault:
        return PagePart(path.stem, tuple(str(fault).splitlines()), str(path))
    stands = RoutineProgressFile(path, routine).progress()
    head, *blocks = overview(routine)
    if stands != RoutineProgress():
        head += f"; goes on with block {stands.block + 1}"
    return PagePart(head, tuple(blocks), str(path))


def _name(_under: str) -> TextQuestion:
    return TextQuestion("What is the routine to be called?", "evening", _refused)


def _refused(name: str) -> str:
    try:
        routines.check_routine_name(name)
    except BadInput as fault:
        return str(fault)
    return ""


def _pattern(_under: str, _name: str) -> ChooseQuestion:
    entries = list_sessions(existing_recordings_folder()).entries
    told = [(one.name, one.title) for one in library.catalogue() if not one.fault]
    return ChooseQuestion("Around which pattern?", told, entries[-1].pattern if entries else None)


def _begin(_under: str, name: str, pattern: str) -> str:
    return f"Written: {routines.begin_routine(name, pattern)}"
