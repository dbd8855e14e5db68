"""Values of the player's TOML files checked: every fault reported at once, with its line and key.

A table of a file is described by its fields: each key with the reader of its value. `read_fields`
goes through all of them, `read_tables` through a list of such tables. Readers get a parsed value
and return what it means, or raise BadInput; those at the end of this file check single entries.
"""

from __future__ import annotations

import difflib
import re
from fractions import Fraction
from functools import cached_property
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput, Faults, raise_faults
from trainer.toml_text import key_lines, line_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping

    Fields = Mapping[str, Callable[[Any], Any]]
    Shape = tuple[Fields, tuple[str, ...]]

MAX_TEXT = 2000
MAX_FAULTS = 100

_FRACTION = re.compile(r"(\d{1,9})(?:/(\d{1,6}))?", re.ASCII)


class FaultList:
    """Gathers the faults of one file, up to MAX_FAULTS, each under a path of keys."""

    def __init__(self, source: str) -> None:
        self._source = source
        self._found: list[tuple[int, BadInput]] = []

    def __len__(self) -> int:
        return len(self._found)

    @cached_property
    def _lines(self) -> dict[tuple[str | int, ...], int]:
        return key_lines(self._source)

    @property
    def full(self) -> bool:
        """Whether enough faults are known to stop looking."""
        return len(self._found) >= MAX_FAULTS

    def add(self, fault: BadInput, path: tuple[str | int, ...]) -> None:
        """Keep a fault with its place in the file: the line where it is known, and the keys."""
        if self.full:
            return
        line = line_of(self._lines, path)
        words = place_words(path)
        if path:
            fault.at(f"line {line}, {words}" if line else words)
        several = fault.faults if isinstance(fault, Faults) else [fault]
        self._found += [(line or 0, one) for one in several[: MAX_FAULTS - len(self._found)]]

    def show(self) -> None:
        """Raise what was found, in the order of the file: BadInput, or Faults for several."""
        faults = [fault for _, fault in sorted(self._found, key=lambda one: one[0])]
        raise_faults(faults)


def place_words(path: tuple[str | int, ...]) -> str:
    """Return `section 2, hands.path` for ("section", 1, "hands", "path")."""
    if len(path) > 1 and isinstance(path[1], int):
        rest = ".".join(map(str, path[2:]))
        return f"{path[0]} {path[1] + 1}" + (f", {rest}" if rest else "")
    return shortened(".".join(map(str, path)))


def read_fields(
    table: Any,
    fields: Fields,
    faults: FaultList,
    path: tuple[str | int, ...],
    other: Callable[[str], Callable[[Any], Any] | None] | None = None,
    others: Iterable[str] = (),
) -> dict[str, Any]:
    """Return the values of a table that could be read; the rest are added to the faults.

    `other` may give a reader for keys that are not in `fields`, some of which are `others`.
    """
    if not isinstance(table, dict):
        faults.add(BadInput("is not a table", fix=f"write [{place_words(path)}]"), path)
        return {}
    found = {}
    for key, value in table.items():
        if faults.full:
            break
        try:
            reader = fields.get(key) or (other(key) if other else None)
            if reader is None:
                raise BadInput("unknown key", fix=nearest(key, (*fields, *others)))
            found[key] = reader(value)
        except BadInput as fault:
            faults.add(fault, (*path, key))
    return found


def read_tables(
    listed: Any,
    name: str,
    faults: FaultList,
    shape: Shape | Callable[[Mapping[str, Any]], Shape],
    most: int = 1000,
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Yield the place and the values of each faultless table in a list of up to `most`.

    `shape` is the fields of a table and the keys it must have, or gives them for a table at hand;
    faults are gathered.
    """
    if not isinstance(listed, list):
        faults.add(BadInput("is not a list of tables", fix=f"write [[{name}]]"), (name,))
        return
    if len(listed) > most:
        faults.add(BadInput(f"has more than {most} tables", fix="remove some"), (name,))
        return
    for place, row in enumerate(listed):
        given = row if isinstance(row, dict) else {}
        fields, needed = shape(given) if callable(shape) else shape
        values = read_fields(row, fields, faults, (name, place))
        missing = [key for key in needed if key not in given]
        if missing and given is row:
            fault = BadInput(f"{missing[0]} is missing", fix=f"write {', '.join(missing)}")
            faults.add(fault, (name, place))
        elif given is row and len(values) == len(row):
            yield place, values


def as_it_is(value: Any) -> Any:
    """Return a value unchecked, for whoever goes through it later."""
    return value


def text(value: Any) -> str:
    """Return a plain text of at most MAX_TEXT characters without control characters."""
    if not isinstance(value, str):
        raise BadInput("is not a text", fix="put it in quotes")
    if len(value) > MAX_TEXT:
        raise BadInput(f"is longer than {MAX_TEXT} characters", fix="shorten it")
    for sign in value:
        if not (sign.isprintable() or sign == "\n") or 0x202A <= ord(sign) <= 0x202E:
            raise BadInput(f"holds the control character U+{ord(sign):04X}", fix="remove it")
    return value


def any_text(longest: int = MAX_TEXT) -> Callable[[Any], str]:
    """Return a reader of texts from outside, such as a port's name, whatever signs they hold."""

    def read(value: Any) -> str:
        if not isinstance(value, str) or len(value) > longest:
            raise BadInput(f"is not a text of at most {longest} characters", fix="put it in quotes")
        return value

    return read


def whole(low: int, high: int) -> Callable[[Any], int]:
    """Return a reader of whole numbers from low to high."""

    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise BadInput(
                f"{shown(value)} is not a whole number from {low} to {high}",
                fix="write one in that range",
            )
        return value

    return read


def number(low: float, high: float) -> Callable[[Any], float]:
    """Return a reader of numbers from low to high."""

    def read(value: Any) -> float:
        fits = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not fits or not low <= value <= high:
            raise BadInput(
                f"{shown(value)} is not a number from {low:g} to {high:g}",
                fix="write one in that range",
            )
        return float(value)

    return read


def exact(value: Any) -> Fraction:
    """Return a fraction of zero or more written as `7/4` or `3`."""
    found = _FRACTION.fullmatch(value) if isinstance(value, str) else None
    if not found or (found[2] and not int(found[2])):
        raise BadInput("is not a fraction written as text", fix='write it like "7/4"')
    return Fraction(int(found[1]), int(found[2] or 1))


def texts(of: Callable[[Any], str], most: int = 1000) -> Callable[[Any], tuple[str, ...]]:
    """Return a reader of lists of texts, each read by `of`."""

    def read(value: Any) -> tuple[str, ...]:
        if not isinstance(value, list) or len(value) > most:
            raise BadInput("is not a list of texts", fix='write ["one", "two"]')
        return tuple(of(one) for one in value)

    return read


def typed_whole(text: str, low: int, high: int) -> int | None:
    """Return the whole number that was typed inside a text, None for anything else.

    However long it is: Python itself raises for more than some thousand digits.
    """
    digits = text.isascii() and text.isdecimal() and len(text) <= len(str(high))
    return int(text) if digits and low <= int(text) <= high else None


def flag(value: Any) -> bool:
    """Return true or false."""
    if not isinstance(value, bool):
        raise BadInput(f"{shown(value)} is neither true nor false", fix="write true or false")
    return value


def choice(*known: str) -> Callable[[Any], str]:
    """Return a reader of one word out of a few."""

    def read(value: Any) -> str:
        if value not in known:
            raise BadInput(f"{shown(value)} is not known here", fix=f"write {', '.join(known)}")
        return str(value)

    return read


def shown(value: Any) -> str:
    """Return a value as it is quoted in a message."""
    return shortened(str(value))


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a hint at the nearest known word, or the list of all."""
    known = list(known)
    if not known:
        return "there are none yet"
    near = difflib.get_close_matches(word[:40], known, 1)
    return f'did you mean "{near[0]}"?' if near else f"choose {', '.join(known)}"


def shortened(text: str) -> str:
    """Return at most 24 characters of a text that is quoted in a message."""
    return text if len(text) <= 24 else text[:23] + "…"
