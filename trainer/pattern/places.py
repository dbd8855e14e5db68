"""Where in the text of a TOML file a key stands, for messages that name the line."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

_TABLE = re.compile(r"\s*(\[\[?)([^\[\]]+)\]")
_KEY = re.compile(r"""\s*("[^"]*"|'[^']*'|[A-Za-z0-9_.-]+)\s*=""")


def line_of(source: str, path: Sequence[str | int]) -> int | None:
    """Return the line (from 1) of a key path such as ("section", 1, "hands", "path").

    Where the key itself is not found, the line of the nearest table around it; None for nothing.
    What a section takes over from the top of the file is found there. Lines are scanned, not
    parsed: a multi-line text may mislead it, which costs only a hint.
    """
    line, depth = _deepest(source, path)
    if path[:1] == ("section",) and depth < len(path):
        above, found = _deepest(source, path[2:])
        if found and found + 2 > depth:
            return above
    return line


def _deepest(source: str, path: Sequence[str | int]) -> tuple[int | None, int]:
    """Return the line where most of a path is found, and how many of its keys those are."""
    best, depth = None, 0
    table: list[str | int] = []
    counts: dict[str, int] = {}
    for number, line in enumerate(source.splitlines(), 1):
        head = _TABLE.match(line)
        key = None if head else _KEY.match(line)
        if head:
            table = _table_path(head[2], head[1] == "[[", counts)
            here = table
        elif key:
            here = table + _names(key[1])
        else:
            continue
        shared = len(here)
        if shared > depth and list(path[:shared]) == here:
            best, depth = number, shared
    return best, depth


def _names(text: str) -> list[str | int]:
    if text[0] in "\"'":
        return [text[1:-1]]
    return [name.strip().strip("\"'") for name in text.split(".")]


def _table_path(text: str, listed: bool, counts: dict[str, int]) -> list[str | int]:
    """Return a table's path; the tables of a list are numbered from 0 as they come."""
    names = _names(text.strip())
    first = str(names[0])
    if listed and len(names) == 1:
        counts[first] = counts.get(first, -1) + 1
    if first in counts:
        return [first, counts[first], *names[1:]]
    return names
