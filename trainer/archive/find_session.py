"""Which session is meant: a path, a part of a file's name, or nothing for the newest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.archive.session import LONGEST_HEADER
from trainer.archive.session_file import open_session_file
from trainer.archive.session_lines import read_names
from trainer.archive.session_list import list_sessions
from trainer.errors import BadInput
from trainer.file_system import expand_home, path_exists, shipped_folder

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

MOST_NAMES = 8


def newest_session(folder: Path) -> Path | None:
    """Return the session that was started last, None where the folder has none."""
    entries = list_sessions(folder).entries
    return entries[-1].path if entries else None


def newest_session_on_kit(folder: Path, kit: str) -> Path | None:
    """Return the session on a kit of that name that was started last, None without any."""
    for entry in reversed(list_sessions(folder).entries):
        with open_session_file(entry.path) as file:
            names = read_names(file.readline(LONGEST_HEADER + 2))
        if names.kit.name == kit:
            return entry.path
    return None


def find_session(folder: Path, name: str | None) -> Path:
    """Return the file of a session; raises BadInput listing what there is.

    `name` is a path, a whole file name with or without its ending, or a part of one that fits a
    single file, in the folder or else among the examples that come with the program. None asks
    for the newest in the folder.
    """
    if name is None:
        path = newest_session(folder)
        if path is None:
            raise BadInput(
                "there is no session yet",
                where=str(folder),
                mend="play one first, or look at an example: example-orders",
            )
        return path
    given = expand_home(name)
    if path_exists(given):  # whoever opens it says what is wrong with a folder or a device
        return given
    return _by_part(folder, name)


def _by_part(folder: Path, part: str) -> Path:
    own = _paths(folder)
    fitting = _fitting(own, part) or _fitting(_paths(shipped_folder("recordings")), part)
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        raise BadInput(
            f'"{part}" fits {len(fitting)} sessions', mend=f"choose one of {_names(fitting)}"
        )
    known = f"the latest are {_names(own)}" if own else "the folder is empty"
    raise BadInput(f'there is no session "{part}"', where=str(folder), mend=known)


def _paths(folder: Path) -> list[Path]:
    return [entry.path for entry in list_sessions(folder).entries]


def _fitting(paths: Iterable[Path], part: str) -> list[Path]:
    """Return the one path of that name, else all that hold the part."""
    holding = [path for path in paths if part.casefold() in path.name.casefold()]
    return [path for path in holding if part in (path.name, path.stem)] or holding


def _names(paths: Iterable[Path]) -> str:
    """Return the latest names, at most SHOWN of them."""
    names = [path.stem for path in paths][::-1]
    return ", ".join(names[:MOST_NAMES]) + (" and more" if len(names) > MOST_NAMES else "")
