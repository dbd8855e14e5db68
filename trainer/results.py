"""Exports, pages and pictures: where each of them is saved. None of them replaces a file of theirs.

A result goes where the player says. A file that is there already is replaced only where the program
wrote it and nobody has changed it since, and never where the result is made from it. Otherwise
the result gets the next free name, `song-2.pdf` beside `song.pdf`, and the player is shown which.

What was written is remembered by path and digest in the player's `cache` folder. Without that
memory every file counts as the player's own.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from typing import TYPE_CHECKING

from trainer.errors import BadInput, TrainerError
from trainer.file_system import (
    path_exists,
    read_bytes,
    user_folder,
    write_file,
)
from trainer.typed_json import encode, reader

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

LARGEST_RESULT = 2**28
LARGEST_MEMORY, MOST_REMEMBERED = 2**22, 2000
"""Bytes of the file that remembers, and the results in it; older ones are forgotten first."""

MOST_BESIDE = 1000
"""Names tried beside one that is taken."""

_read_memory = reader(dict[str, str])


def save_result(
    wanted: Path, content: str | bytes, made_from: Iterable[Path] = (), *, own: bool = False
) -> Path:
    """Write a result and return where it is: at the wanted place, or beside a file that is kept.

    `made_from` are files that are never replaced, `own` as in `file_system.write_file`, whose
    errors this raises.
    """
    data = content.encode() if isinstance(content, str) else content
    made_from = tuple(made_from)
    written = _remembered()
    for path in _names(wanted):
        if _may_write(path, data, made_from, written):
            write_file(path, data, own=own)
            _remember(written, path, data)
            return path
    raise BadInput("this name is taken", where=str(wanted), fix="choose another name")


def saved_words(saved: Path, wanted: Path) -> str:
    """Return in words where a result was saved, and what was kept where it had to move aside."""
    kept = saved != wanted and path_exists(wanted)
    return f"written: {saved}" + f" ({wanted.name} was there already and is kept)" * kept


def may_replace(path: Path, data: bytes) -> bool:
    """Return whether a place can take a result of this content and no file of theirs is lost."""
    return _may_write(path, data, (), _remembered())


def _names(wanted: Path) -> Iterable[Path]:
    yield wanted
    for count in range(2, MOST_BESIDE):
        yield wanted.with_stem(f"{wanted.stem}-{count}")


def _may_write(
    path: Path, data: bytes, made_from: tuple[Path, ...], written: dict[str, str]
) -> bool:
    """Return whether nothing is lost by writing to a place; True for what `write_file` refuses."""
    if not path_exists(path) or not path.is_file():
        return True
    if any(_same_file(path, one) for one in made_from):
        return False
    try:
        before = read_bytes(path, LARGEST_RESULT)
    except BadInput:
        return False
    return before == data or written.get(_name(path)) == _digest(before)


def _same_file(path: Path, other: Path) -> bool:
    with contextlib.suppress(OSError, ValueError):
        return path.samefile(other)
    return False


def _memory() -> Path:
    return user_folder("cache") / "results.json"


def _remembered() -> dict[str, str]:
    """Return the digest of each result that was written, by its whole path."""
    try:
        return _read_memory(read_bytes(_memory(), LARGEST_MEMORY))
    except BadInput:
        return {}


def _remember(written: dict[str, str], path: Path, data: bytes) -> None:
    """Keep what was written; without a place for that the next result gets another name."""
    written.pop(_name(path), None)
    kept = [*written.items()][1 - MOST_REMEMBERED :]
    with contextlib.suppress(TrainerError):
        write_file(_memory(), encode(dict(kept) | {_name(path): _digest(data)}), own=True)


def _name(path: Path) -> str:
    return os.path.realpath(path)


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
