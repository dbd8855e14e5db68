"""Changes to a pattern, written after its name or as options: another path, other feet, and so on.

Wherever a pattern is asked for, `single-paradiddle path="snare*4 tom1*4" feet=samba` means that
pattern with these changes. The same keys make a new pattern from nothing.
"""

from __future__ import annotations

import re
import shlex
from copy import deepcopy
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.toml_file import nearest, shortened

if TYPE_CHECKING:
    from collections.abc import Mapping

PLACES: dict[str, tuple[str, ...]] = {
    "title": ("title",),
    "about": ("about",),
    "tags": ("tags",),
    "level": ("level",),
    "tempo": ("tempo",),
    "tempo-unit": ("tempo_unit",),
    "meter": ("meter",),
    "length": ("length",),
    "times": ("times",),
    "sticking": ("hands", "sticking"),
    "lead": ("hands", "lead"),
    "value": ("hands", "value"),
    "back": ("hands", "back"),
    "rhythm": ("hands", "rhythm"),
    "path": ("hands", "path"),
    "per": ("hands", "per"),
    "orders": ("hands", "orders"),
    "seed": ("hands", "seed"),
    "each": ("hands", "each"),
    "shift": ("hands", "shift"),
    "feet": ("feet", "ostinato"),
    "feet-value": ("feet", "value"),
    "kick": ("feet", "kick"),
    "kick2": ("feet", "kick2"),
    "pedal": ("feet", "pedal"),
}
"""Each key of a change and where it goes in the file's table, in the order they are written."""

_FIRST_KEY = re.compile(r"\s+[a-z0-9-]+=")
_NUMBERS = ("level", "length", "times", "seed", "each", "shift", "tempo")
_INSTEAD = {"value": ("rhythm", "back"), "rhythm": ("value", "back")}


def split(text: str) -> tuple[str, dict[str, str]]:
    """Return the name or path a text begins with, and the changes after it."""
    first = _FIRST_KEY.search(text)
    if not first:
        return text, {}
    try:
        words = shlex.split(text[first.start() :])
    except ValueError:
        raise BadInput(
            f'"{shortened(text)}" has half a pair of quotes', mend='write path="snare tom1"'
        ) from None
    changes = {}
    for word in words:
        key, equals, value = word.partition("=")
        if not equals:
            raise BadInput(
                f'"{shortened(word)}" is not a change', mend='quote texts: path="snare tom1"'
            )
        if key not in PLACES:
            raise BadInput(f'there is no change "{shortened(key)}"', mend=nearest(key, PLACES))
        changes[key] = value
    return text[: first.start()], changes


def applied(table: Mapping[str, Any], changes: Mapping[str, str]) -> dict[str, Any]:
    """Return a file's table with changes; they hold in every section of it."""
    changed = deepcopy(dict(table))
    for key in changes:
        for part in (changed, *_sections(changed)):
            _drop(part, key, PLACES[key])
    for key, text in changes.items():
        _put(changed, key, PLACES[key], _value(key, text))
    return changed


def written(changes: Mapping[str, str]) -> str:
    """Return changes as they are written after a name; `split` reads them back."""
    return "".join(f" {key}={shlex.quote(value)}" for key, value in changes.items())


def _sections(table: dict[str, Any]) -> list[dict[str, Any]]:
    listed = table.get("section")
    return [one for one in listed if isinstance(one, dict)] if isinstance(listed, list) else []


def _drop(part: dict[str, Any], key: str, place: tuple[str, ...]) -> None:
    """Take out what a change replaces."""
    if len(place) == 1:
        part.pop(place[0], None)
        return
    inner = part.get(place[0])
    if isinstance(inner, str):
        short = {"hands": "sticking", "feet": "ostinato"}[place[0]]
        part[place[0]] = inner = {} if inner == "none" else {short: inner}
    if key == "feet":
        part.pop("feet", None)
    elif isinstance(inner, dict):
        for name in (place[1], *_INSTEAD.get(key, ())):
            inner.pop(name, None)


def _put(table: dict[str, Any], key: str, place: tuple[str, ...], value: Any) -> None:
    if key == "feet" and value == "none":
        return
    inner = table if len(place) == 1 else table.setdefault(place[0], {})
    if isinstance(inner, dict):
        inner[place[-1]] = value


def _value(key: str, text: str) -> Any:
    """Return a change's text as the kind of value the file would hold."""
    if key == "back":
        return {"true": True, "yes": True, "": True, "false": False, "no": False}.get(text, text)
    if key in _NUMBERS or (key == "orders" and text != "all"):
        try:
            return int(text)
        except ValueError:
            try:
                return float(text)
            except ValueError:
                return text
    return text.split() if key in ("tags", "meter") else text
