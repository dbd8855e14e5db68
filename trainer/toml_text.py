"""TOML files: parsed in bounded time, where in one a key is, and written new or changed in place.

A file is changed in place: what differs is put in, and comments, order and spelling of the rest
stay as they were. Nothing else in the program writes TOML.
"""

from __future__ import annotations

import re
import tomllib
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from tomlkit.items import Item


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
            fix="use only tables and plain values",
        ) from None
    except tomllib.TOMLDecodeError as error:
        what, line = _fault(str(error), source)
        raise BadInput(what, where=line, fix="fix the TOML there") from None
    except ValueError:  # whole numbers of more than a few thousand digits
        line = f"line {_long_number_line(source)}"
        raise BadInput(
            "holds a number that is too long to read", where=line, fix="shorten it"
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


def toml_text(table: Mapping[str, Any]) -> str:
    """Return the text of a new file that says a table of plain values."""
    return changed_text("", {}, table)


def changed_text(
    source: str,
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    means: Callable[[str], Any] = parse,
) -> str:
    """Return a file's text with the differences between two tables put in.

    `before` is what the text says now and `after` what it shall say. `means` reads a text: what
    comes out must mean the same as a new file of `after`, which is returned where it does not.
    """
    from tomlkit.exceptions import TOMLKitError

    if not source:
        return _edited("", {}, after)
    new = _edited("", {}, after)
    try:
        text = _edited(source, before, after)
        return text if means(text) == means(new) else new
    except (TOMLKitError, BadInput, AttributeError, LookupError, TypeError, ValueError):
        # A table written in several places, or another form that cannot be changed in place.
        return new


def _edited(source: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    import tomlkit

    document = tomlkit.parse(source if source.endswith("\n") or not source else source + "\n")
    _change(document, before, after)
    # Half of a pair of surrogates, as a file's name may hold it, cannot be written.
    return document.as_string().encode("utf-8", "replace").decode()


def _change(table: Any, before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
    """Put the differences into a table or document of tomlkit's."""
    from tomlkit.items import AoT, Table

    for key in [*before, *(key for key in after if key not in before)]:
        old, new = before.get(key), after.get(key)
        if key in after and key in before and old == new:
            continue
        there = table.get(key)
        if key not in after:
            if key in table:
                _remove(table, key)
        elif isinstance(there, dict) and isinstance(new, dict):
            _change(there, old if isinstance(old, dict) else {}, new)
        elif isinstance(there, AoT) and isinstance(old, list) and isinstance(new, list) and new:
            _change_rows(there, old, new)
        elif key in table and not isinstance(there, (AoT, Table)):
            table[key] = _item(new, inner=True)
        else:
            if key in table:
                _remove(table, key)
            _append(table, key, _item(new, inner=not _holds_tables(table)))


def _holds_tables(table: Any) -> bool:
    """Return whether a table in this one gets lines of its own: the file, and those of a list."""
    from tomlkit.container import Container

    return isinstance(table, Container) or getattr(table, "is_aot_element", lambda: False)()


def _change_rows(rows: Any, before: list[Any], after: list[Any]) -> None:
    """Put the differences into a list of tables; the rows that are equal at both ends stay."""
    start, end = 0, 0
    least = min(len(before), len(after))
    while start < least and before[start] == after[start]:
        start += 1
    while end < least - start and before[-1 - end] == after[-1 - end]:
        end += 1
    for at in range(start, least - end):
        _change(rows[at], before[at], after[at])
    for _ in range(len(before) - least):
        _remove_row(rows, least - end)
    for at in range(least - end, len(after) - end if len(after) > least else 0):
        row = _item([after[at]], inner=False)[0]
        if at and not rows[at - 1].as_string().endswith("\n\n"):
            row.trivia.indent = "\n"
        rows.insert(at, row)


def _remove_row(rows: Any, at: int) -> None:
    """Take a table out of a list; comments after its last key belong to what follows."""
    kept = _taken_comments(rows[at])
    del rows[at]
    if at < len(rows):
        rows[at].trivia.indent = kept + rows[at].trivia.indent
    elif rows:
        _comment_end(rows[-1], kept)


def _remove(table: Any, key: str) -> None:
    """Take a key out; comments after the last key of a table belong to what follows."""
    rows = table[key] if isinstance(table[key], list) else [table[key]]
    kept = "".join(map(_taken_comments, rows))
    keyed = [(name.key, item) for name, item in _body(table) if name is not None]
    following = [item for _, item in keyed[[name for name, _ in keyed].index(key) + 1 :]]
    table.remove(key)
    if kept and following:
        after = following[0][0] if isinstance(following[0], list) else following[0]
        after.trivia.indent = kept + after.trivia.indent
    else:
        _comment_end(table, kept)


def _append(table: Any, key: str, item: Item) -> None:
    """Put a new key last, but above the comments that introduce what follows."""
    kept = _taken_tail(table)
    table.append(key, item)
    _comment_end(table, kept)


def _taken_comments(item: Any) -> str:
    """Take off what is above a table that moved there before, and what is below its last key."""
    from tomlkit.items import Table

    return item.trivia.indent + _taken_tail(item) if isinstance(item, Table) else ""


def _taken_tail(table: Any) -> str:
    """Take the comments and blank lines off the end of a table, and return them."""
    from tomlkit.items import Table

    body = _body(table) if isinstance(table, Table) else []
    found = ""
    while body and body[-1][0] is None:
        found = body.pop()[1].as_string() + found
    return found


def _comment_end(table: Any, text: str) -> None:
    """Put comments at the end of a table."""
    import tomlkit

    _body(table).extend(tomlkit.parse(text).body)


def _body(table: Any) -> list[tuple[Any, Any]]:
    """Return the keys and comments of a table or document, in their order."""
    body: list[tuple[Any, Any]] = (table.value if hasattr(table, "is_aot_element") else table).body
    return body


def _item(value: Any, *, inner: bool) -> Any:
    """Return a plain value as an item of tomlkit's.

    Tables get lines of their own, but those inside another (`inner`) one line.
    """
    import tomlkit

    if isinstance(value, dict) and inner:
        pairs = (
            f"{tomlkit.key(key).as_string()} = {_item(one, inner=True).as_string()}"
            for key, one in value.items()
        )
        return tomlkit.value(f"{{ {', '.join(pairs)} }}")
    if isinstance(value, dict):
        table = tomlkit.table()
        for key, one in value.items():
            table.append(key, _item(one, inner=True))
        return table
    if isinstance(value, (list, tuple)) and value and not inner and isinstance(value[0], dict):
        rows = tomlkit.aot()
        for row in value:
            table = tomlkit.table()
            for key, one in sorted(row.items(), key=lambda one: isinstance(one[1], dict)):
                table.append(key, _item(one, inner=False))
            rows.append(table)
        return rows
    if isinstance(value, (list, tuple)):
        listed = tomlkit.array()
        listed.extend(_item(one, inner=True) for one in value)
        return listed
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        value = int(value)
    return tomlkit.item(str(value) if isinstance(value, str) else value)
