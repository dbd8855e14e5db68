"""TOML files written: new ones from a table, and changes to those that people edit by hand.

A file is changed in place: what differs is put in, and comments, order and spelling of the rest
stay as they were. Nothing else in the program writes TOML.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.toml_text import parse

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from tomlkit.items import Item


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

    Tables get lines of their own, but those that stand inside another (`inner`) one line.
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
