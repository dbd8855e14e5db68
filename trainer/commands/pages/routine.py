"""The player's routines on the screen, to choose one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.archive import routine_files
from trainer.archive.index import scan
from trainer.archive.routines import Sitting, load
from trainer.commands.routine import overview
from trainer.errors import BadInput
from trainer.pattern import files
from trainer.practice.routine import Progress
from trainer.screens.page import Act, Ask, Choose, Page, Part, Run
from trainer.screens.page import Progress as Told
from trainer.settings import folder_to_read

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

    def open_it(path: str) -> Run:
        if not path:
            raise BadInput("there is no routine yet", mend="press n to make one")
        return Run(("routine", path, "--port", port))

    return Page(
        "Routines: one sitting of several blocks",
        GUIDE,
        "trainer routine FILE --check",
        _tell,
        (
            Act("enter", "Open", "See where it stands and go on", open_it),
            Act("n", "New", "Write a routine around a pattern", _begin, (_name, _pattern)),
        ),
    )


def _tell(_progress: Told) -> Iterator[Part]:
    found = routine_files.known()
    for path in found:
        yield _part(path)
    if not found:
        yield Part("No routine yet.", ("Press n to write one around a pattern you practise.",))


def _part(path: Path) -> Part:
    try:
        routine = load(path)
    except BadInput as fault:
        return Part(path.stem, tuple(str(fault).splitlines()), str(path))
    stands = Sitting(path, routine).progress()
    head, *blocks = overview(routine)
    if stands != Progress():
        head += f"; goes on with block {stands.block + 1}"
    return Part(head, tuple(blocks), str(path))


def _name(_under: str) -> Ask:
    return Ask("What is the routine to be called?", "evening", _refused)


def _refused(name: str) -> str:
    try:
        routine_files.check_name(name)
    except BadInput as fault:
        return str(fault)
    return ""


def _pattern(_under: str, _name: str) -> Choose:
    entries = scan(folder_to_read()).entries
    told = [(one.name, one.title) for one in files.catalogue() if not one.fault]
    return Choose("Around which pattern?", told, entries[-1].pattern if entries else None)


def _begin(_under: str, name: str, pattern: str) -> str:
    return f"Written: {routine_files.begin(name, pattern)}"
