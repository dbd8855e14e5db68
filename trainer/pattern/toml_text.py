"""A pattern's table as the TOML text a drummer would type, keys in the order of the reference."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from trainer.pattern.changes import PLACES

if TYPE_CHECKING:
    from collections.abc import Mapping

_TABLES = ("hands", "feet", "bars")


def write(table: Mapping[str, Any]) -> str:
    """Return the file of a table of plain values, lists and the tables of a pattern."""
    lines = [_entry(key, value) for key, value in table.items() if key not in (*_TABLES, "section")]
    lines += _inner(table, "")
    for section in table.get("section", ()):
        plain = [_entry(key, value) for key, value in section.items() if key not in _TABLES]
        lines += ["", "[[section]]", *plain, *_inner(section, "section.")]
    return "\n".join(lines).lstrip("\n") + "\n"


def ordered(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table with its keys in the order of the reference; others follow as they stood."""
    return {
        key: dict(_sorted(value, (key,))) if isinstance(value, dict) else value
        for key, value in _sorted(table, ())
    }


def _sorted(table: Mapping[str, Any], prefix: tuple[str, ...]) -> list[tuple[str, Any]]:
    places = [*PLACES.values()]

    def rank(item: tuple[str, Any]) -> int:
        place = (*prefix, item[0])
        return places.index(place) if place in places else len(places)

    return sorted(table.items(), key=rank)


def _inner(table: Mapping[str, Any], prefix: str) -> list[str]:
    lines = []
    for name in _TABLES:
        value = table.get(name)
        if isinstance(value, dict):
            lines += ["", f"[{prefix}{name}]", *(_entry(key, one) for key, one in value.items())]
        elif value is not None:
            lines.insert(0, _entry(name, value))
    return lines


def _entry(key: str, value: Any) -> str:
    bare = key.replace("-", "").replace("_", "").isalnum() and key.isascii()
    return f"{key if bare else _text(key)} = {_value(value)}"


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(_value, value))}]"
    return _text(value) if isinstance(value, str) else str(value)


def _text(text: str) -> str:
    """Return a basic TOML string; JSON's escapes are a part of TOML's."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
