"""Patterns that a routine file carries, so that one file is enough wherever it is opened.

[[pattern]]
file = "our-own.toml"         # the blocks find it by this name
text = '''
title = "Our own"
'''

A file that is no text (MIDI, compressed MusicXML) has `base64` in place of `text`. To be opened as
any other is, they are unpacked into a folder of the player's cache that is named by content.
A pattern of the player's own with the same name is neither replaced nor played in their place.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

import tomlkit

from trainer import checked
from trainer.errors import BadInput
from trainer.file_system import is_file, read_bytes, user_folder, write_file
from trainer.pattern import library
from trainer.pattern.language.changes import split
from trainer.pattern.limbs import taken_names
from trainer.results import may_replace, save_result

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    from trainer.checked import FaultList

MOST_CARRIED = 100
FILE_NAME = re.compile(r"\w[\w .-]{0,99}")
"""A name that leaves no folder: no slashes, no dot in front."""

_any_text = checked.any_text(library.MAX_BYTES)


def _file(value: Any) -> str:
    name = checked.text(value)
    if not FILE_NAME.fullmatch(name) or PurePath(name).suffix.lower() not in library.ENDINGS:
        raise BadInput(
            f'"{checked.shown(name)}" is no name of a pattern file',
            fix=f"use letters, digits, blanks and dashes, then {', '.join(library.ENDINGS)}",
        )
    return name


def _bytes(value: Any) -> bytes:
    try:
        return base64.b64decode(_any_text(value), validate=True)
    except (binascii.Error, ValueError):
        raise BadInput("is not base64", fix="send the file again") from None


FIELDS: dict[str, Callable[[Any], Any]] = {
    "file": _file,
    "text": lambda value: _any_text(value).encode(),
    "base64": _bytes,
}


def read_carried(listed: Any, faults: FaultList) -> dict[str, bytes]:
    """Return the files that a routine carries by their names; what is wrong is in the faults."""
    found: dict[str, bytes] = {}
    shape = (FIELDS, ("file",))
    for place, values in checked.read_tables(listed, "pattern", faults, shape, MOST_CARRIED):
        data = values.get("text", values.get("base64"))
        if data is None or len(values) > len(shape[1]) + 1:
            fault = BadInput("wants either text or base64", fix="write one of them")
            faults.add(fault, ("pattern", place))
        elif any(_stem(name) == _stem(values["file"]) for name in found):
            fault = BadInput("is carried twice", fix="rename one of them")
            faults.add(fault, ("pattern", place, "file"))
        else:
            found[values["file"]] = data
    return found


def _stem(name: str) -> str:
    return PurePath(name).stem.casefold()


def unpack(carried: Mapping[str, bytes]) -> Path:
    """Write the files into their folder of the cache and return that; Failure of the disk."""
    digest = hashlib.sha256()
    for name, data in carried.items():
        digest.update(f"{name}\0{len(data)}\0".encode() + data)
    folder = user_folder("cache") / f"patterns-{digest.hexdigest()[:16]}"
    for name, data in carried.items():
        if not has_content(folder / name, data):
            write_file(folder / name, data, own=True)
    return folder


def has_content(path: Path, data: bytes) -> bool:
    """Return whether a file is there and holds just this."""
    try:
        return read_bytes(path, library.MAX_BYTES) == data
    except BadInput:
        return False


def carried_source(pattern: str, carried: Mapping[str, bytes], folder: Path) -> str:
    """Return where a carried pattern is opened, with its changes; empty for one not carried."""
    name = split(pattern)[0]
    found = [one for one in carried if PurePath(name).name in (one, PurePath(one).stem)]
    return f"{folder / found[0]}{pattern[len(name) :]}" if found else ""


def own_files(patterns: Iterable[str]) -> dict[str, Path]:
    """Return the files of patterns, and of those they take in, that do not ship, by their names.

    Raises BadInput for a pattern that is not there, and for two files of one name.
    """
    shipped = library.pattern_folders()[1]
    found: dict[str, Path] = {}
    for path in _with_taken(patterns, None):
        if path.parent == shipped:
            continue
        if found.setdefault(path.name, path).resolve() != path.resolve():
            raise BadInput("two patterns have this name", where=path.name, fix="rename one of them")
    return found


def _with_taken(patterns: Iterable[str], beside: Path | None, deep: int = 0) -> Iterator[Path]:
    for pattern in patterns:
        path = library.find_pattern(split(pattern)[0], beside)
        yield path
        if path.suffix.lower() == ".toml" and deep <= library.MOST_INSIDE:
            yield from _with_taken(taken_names(library.read_table(path)[0]), path.parent, deep + 1)


def carrying(source: str, files: Mapping[str, Path]) -> str:
    """Return the text of a routine with files added to what it carries; its own text stays."""
    return source.rstrip() + "\n" + "".join(_table(name, path) for name, path in files.items())


def _table(name: str, path: Path) -> str:
    data = read_bytes(path, library.MAX_BYTES)
    try:
        key, text = "text", data.decode()
    except UnicodeDecodeError:
        key, text = "base64", base64.b64encode(data).decode()
    plain = (
        "'''" not in text and "\r" not in text and all(s.isprintable() or s == "\n" for s in text)
    )
    quoted = f"'''\n{text}'''" if plain else tomlkit.string(text).as_string()
    return f"\n[[pattern]]\nfile = {tomlkit.string(name).as_string()}\n{key} = {quoted}\n"


def keep_copies(carried: Mapping[str, bytes], folder: Path) -> list[str]:
    """Write carried files into a patterns folder, or over what an earlier file of ours put there.

    Returns the names of which the folder has another pattern, which is left as it is.
    """
    others = []
    for name, data in carried.items():
        endings = (one for one in library.ENDINGS if one != PurePath(name).suffix.lower())
        taken = any(is_file(folder / f"{PurePath(name).stem}{ending}") for ending in endings)
        if taken or not may_replace(folder / name, data):
            others.append(name)
        else:
            save_result(folder / name, data, own=True)
    return others
