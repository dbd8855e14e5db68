"""The text of a TOML file: parsed in bounded time, and where in it a key is."""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Sequence

Path = tuple[str | int, ...]

_TABLE = re.compile(r"\s*(\[\[?)([^\[\]]+)\]")
_KEY = re.compile(r"""\s*("[^"]*"|'[^']*'|[A-Za-z0-9_.-]+)\s*=""")

# A key of many parts costs the TOML reader the square of its length, in time and memory.
_STRINGS = re.compile(r"""\"{3}.*?\"{3}|'{3}.*?'{3}|"[^"\n]*"|'[^'\n]*'""", re.DOTALL)
_LONG_NUMBER = re.compile(r"(?:0[xob]|[1-9])[0-9A-Fa-f_]{15,}")
_DEEP_KEY = re.compile(r"(?<![\w'-])(?:[\w'-]++\s*+\.\s*+){16}")


def parse(source: str) -> dict[str, Any]:
    """Return the table of a TOML text; BadInput names the line of a fault."""
    try:
        if _DEEP_KEY.search(_STRINGS.sub("''", source)):
            raise RecursionError
        table = tomllib.loads(source)
        _check_numbers(table)
        return table
    except RecursionError:
        raise BadInput(
            "is not TOML that can be read: nested too deep",
            mend="use only tables and plain values",
        ) from None
    except tomllib.TOMLDecodeError as error:
        what, line = _fault(str(error), source)
        raise BadInput(what, where=line, mend="fix the TOML there") from None
    except ValueError:  # whole numbers of more than a few thousand digits
        line = f"line {_long_number_line(source)}"
        raise BadInput(
            "holds a number that is too long to read", where=line, mend="shorten it"
        ) from None


def _long_number_line(source: str) -> int:
    """Return the line, from 1, of the first number that may be meant."""
    found = _LONG_NUMBER.search(source)
    return source.count("\n", 0, found.start() if found else 0) + 1


def _check_numbers(table: dict[str, Any]) -> None:
    """Refuse whole numbers beyond 64 bits, which TOML does not promise and nothing here needs.

    Python reads hexadecimal ones of any length, and then fails to print them.
    """
    waiting: list[Any] = [table]
    while waiting:
        one = waiting.pop()
        if isinstance(one, (dict, list)):
            waiting += one.values() if isinstance(one, dict) else one
        elif isinstance(one, int) and not -(2**63) <= one < 2**63:
            raise ValueError


def line_of(lines: dict[Path, int], path: Sequence[str | int]) -> int | None:
    """Return the line (from 1) of a key path such as ("section", 1, "hands", "path").

    Where the key itself is not found, the line of the nearest table around it; None for nothing.
    What a section takes over from the top of the file is found there.
    """
    whole = tuple(path)
    depth = _known(lines, whole)
    if whole[:1] == ("section",) and depth < len(whole):
        above = whole[2:]
        found = _known(lines, above)
        if found and found + 2 > depth:
            return lines[above[:found]]
    return lines[whole[:depth]] if depth else None


def key_lines(source: str) -> dict[Path, int]:
    """Return the line of every key and table of a file.

    Lines are scanned, not parsed: a text over several lines may mislead it, which costs a hint.
    """
    found: dict[Path, int] = {}
    table: Path = ()
    counts: dict[str, int] = {}
    for number, line in enumerate(source.splitlines(), 1):
        head = _TABLE.match(line)
        key = None if head else _KEY.match(line)
        if head:
            table = _table_path(head[2], head[1] == "[[", counts)
            found.setdefault(table[:1], number)
            found.setdefault(table, number)
        elif key:
            found.setdefault((*table, *_names(key[1])), number)
    return found


def _fault(message: str, source: str) -> tuple[str, str]:
    """Split the TOML reader's message into what is wrong and the place it is in."""
    what, _, place = message.partition(" (at ")
    place = place.rstrip(")")
    if not place.startswith("line"):
        place = f"line {source.count(chr(10)) + 1}, at the end"
    return f"is not TOML: {what[:1].lower()}{what[1:100]}", place


def _known(lines: dict[Path, int], path: Path) -> int:
    """Return how many keys of a path, from its beginning, are known as one."""
    return next((size for size in range(len(path), 0, -1) if path[:size] in lines), 0)


def _names(text: str) -> Path:
    if text[0] in "\"'":
        return (text[1:-1],)
    return tuple(name.strip().strip("\"'") for name in text.split("."))


def _table_path(text: str, listed: bool, counts: dict[str, int]) -> Path:
    """Return a table's path; the tables of a list are numbered from 0 as they come."""
    names = _names(text.strip() or " ")
    first = str(names[0])
    if listed and len(names) == 1:
        counts[first] = counts.get(first, -1) + 1
    return (first, counts[first], *names[1:]) if first in counts else names
