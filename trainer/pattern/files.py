"""Find and open patterns: by name in the player's folder and among those that ship, or by path.

A path may end in .toml, .mid, .midi, .musicxml, .xml or .txt (tab). Listing reads each file's
headings only; nothing is laid out, so a thousand files are listed at once.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer import resources
from trainer.errors import BadInput
from trainer.pattern.changes import applied, split, written
from trainer.pattern.limbs import limbs
from trainer.plain_file import expanded, is_file, is_there, read_text, write
from trainer.toml_source import parse

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.pattern.model import Pattern

MAX_BYTES = 2_000_000
_READERS = {
    ".mid": "trainer.pattern.smf",
    ".midi": "trainer.pattern.smf",
    ".musicxml": "trainer.pattern.musicxml",
    ".xml": "trainer.pattern.musicxml",
    ".txt": "trainer.pattern.tab_read",
}
"""The module whose `read(path)` opens a file, by its ending."""

ENDINGS = (".toml", *_READERS)


@dataclass(frozen=True, slots=True)
class Entry:
    """What a list of patterns shows of one file.

    `limbs` are those the file writes for; `fault` is empty, or why the file cannot be read.
    """

    name: str
    title: str
    path: Path
    tags: tuple[str, ...] = ()
    level: int = 1
    limbs: tuple[str, ...] = ()
    about: str = ""
    own: bool = False
    fault: str = ""


def load(name_or_path: str) -> Pattern:
    """Return the pattern of a name or a path, with any changes written after it.

    Changes are `trainer.pattern.changes`: `single-paradiddle path="snare*4 tom1*4" feet=samba`.
    Raises BadInput with the file and the place in it.
    """
    name, changes = name_or_path, dict[str, str]()
    if not is_file(Path(name_or_path)):
        name, changes = split(name_or_path)
    path = find(name)
    ending = path.suffix.lower()
    if ending in _READERS and not changes:
        # These readers name the file in their faults themselves.
        pattern: Pattern = import_module(_READERS[ending]).read(path)
        return pattern
    try:
        return _read(path, changes)
    except BadInput as fault:
        raise fault.at(path.name) from None


def find(name_or_path: str) -> Path:
    """Return the file of a name (the player's own first, then what ships) or of a path."""
    given = expanded(name_or_path)
    if given.suffix.lower() in ENDINGS or len(given.parts) > 1:
        if not is_file(given):
            what, mend = "there is no such file", "check the path"
            if is_there(given):
                what, mend = "this is not a file", "name a pattern file"
            raise BadInput(what, where=name_or_path[:200], mend=mend)
        if given.suffix.lower() not in ENDINGS:
            raise BadInput(
                f"a pattern ends in {', '.join(ENDINGS)}",
                where=name_or_path[:200],
                mend="rename it",
            )
        return given
    for folder in folders():
        for ending in ENDINGS:
            path = folder / f"{name_or_path}{ending}"
            if name_or_path and is_file(path):
                return path
    near = difflib.get_close_matches(name_or_path[:80], _names(), 1)
    raise BadInput(
        f'there is no pattern "{name_or_path[:80]}"',
        mend=f'did you mean "{near[0]}"' if near else "see trainer patterns list",
    )


def folders() -> tuple[Path, ...]:
    """Return the folders that are searched: the player's own, then the one that ships."""
    return resources.user_folder("patterns"), resources.shipped("patterns")


def catalogue() -> list[Entry]:
    """Return all patterns by name; the player's own stands for a shipped one of the same name."""
    found: dict[str, Entry] = {}
    for path, own in _paths():
        found.setdefault(path.stem, _entry(path, own))
    return [found[name] for name in sorted(found)]


def save(name: str, text: str, *, over: bool = False) -> Path:
    """Write a pattern file into the player's own folder and return its path.

    The file appears whole or not at all. Raises BadInput for a name that cannot be one, or that is
    taken (unless `over`).
    """
    check_name(name)
    path = folders()[0] / f"{name}.toml"
    if taken(name) and not over:
        raise BadInput("there is such a pattern already", where=name, mend="choose another name")
    write(path, text.encode(), make_folder=True)
    return path


def check_name(name: str) -> None:
    """Raise BadInput for a name that no pattern can have."""
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]{0,79}", name):
        raise BadInput(f'"{name[:80]}" cannot be a name', mend="use letters, digits, - and _")


def taken(name: str) -> bool:
    """Return whether the player has a pattern file of a name already."""
    return (folders()[0] / f"{name}.toml").exists()


def read_table(path: Path) -> tuple[dict[str, Any], str]:
    """Return the parsed table of a TOML file and its text."""
    source = read_text(path, MAX_BYTES)
    return parse(source), source


def _read(path: Path, changes: dict[str, str]) -> Pattern:
    """Read a TOML file; with changes its name says them, so that the name opens the same again."""
    if path.suffix.lower() != ".toml":
        raise BadInput("only a TOML pattern can be changed", mend="leave the changes out")
    # Listing reads headings only and does not need the language.
    from trainer.pattern import notation

    table, source = read_table(path)
    if not changes:
        return notation.read(table, path.stem, source)
    pattern = notation.read(applied(table, changes), path.stem + written(changes))
    if "title" in changes:
        return pattern
    words = ", ".join(f"{key} {value}" for key, value in changes.items())
    return replace(pattern, title=f"{pattern.title}, {words}")


def _paths() -> Iterator[tuple[Path, bool]]:
    for own, folder in zip((True, False), folders(), strict=True):
        try:
            inside = list(folder.iterdir())
        except OSError:  # the player has no folder yet, or it cannot be looked into
            continue
        known = (path for path in inside if path.suffix.lower() in ENDINGS)
        for path in sorted(known, key=lambda path: (path.stem, ENDINGS.index(path.suffix.lower()))):
            if not path.name.startswith("."):
                yield path, own


def _names() -> list[str]:
    return [path.stem for path, _ in _paths()]


def _entry(path: Path, own: bool) -> Entry:
    """Return a file's line of the list from its headings, whatever state the rest is in."""
    if path.suffix.lower() != ".toml":
        return Entry(path.stem, path.stem, path, ("file",), own=own)
    try:
        table, _ = read_table(path)
    except BadInput as fault:
        return Entry(path.stem, path.stem, path, own=own, fault=str(fault.at(path.name)))
    tags, level = table.get("tags"), table.get("level")
    words = tags.split() if isinstance(tags, str) else tags if isinstance(tags, list) else []
    return Entry(
        path.stem,
        _text(table, "title") or path.stem,
        path,
        tuple(word for word in words if isinstance(word, str)),
        level if isinstance(level, int) and 1 <= level <= 5 else 1,
        limbs(table),
        _text(table, "about"),
        own,
    )


def _text(table: dict[str, Any], key: str) -> str:
    value = table.get(key)
    return value if isinstance(value, str) else ""
