"""Checks of single entries of a pattern file: type, range, plain text, known names.

A table of a file is described by its fields: each key with the reader of its value. `read_fields`
goes through all of them, so that every fault of a file is told at once, each with its place.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput, Faults
from trainer.pattern import spelling
from trainer.pattern.model import Meter
from trainer.pattern.places import line_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from fractions import Fraction

Reader = "Callable[[Any], Any]"
MAX_TEXT = 2000
MIN_TEMPO, MAX_TEMPO = 20.0, 400.0
UNITS = (1, 2, 4, 8, 16, 32)


class FaultList:
    """Gathers the faults of one file; `at` of a fault is the path of keys it was found under."""

    def __init__(self, source: str) -> None:
        self.source = source
        self._found: list[tuple[int, BadInput]] = []

    def __len__(self) -> int:
        return len(self._found)

    def add(self, fault: BadInput, path: tuple[str | int, ...]) -> None:
        """Keep a fault with its place in the file: the line where it is known, and the keys."""
        line = line_of(self.source, path)
        words = place_words(path)
        if path:
            fault.at(f"line {line}, {words}" if line else words)
        self._found.append((line or 0, fault))

    def tell(self) -> None:
        """Raise what was found, in the order of the file: BadInput, or Faults for several."""
        faults = [fault for _, fault in sorted(self._found, key=lambda one: one[0])]
        if len(faults) == 1:
            raise faults[0]
        if faults:
            raise Faults(faults)


def place_words(path: tuple[str | int, ...]) -> str:
    """Return `section 2, hands.path` for ("section", 1, "hands", "path")."""
    if len(path) > 1 and isinstance(path[1], int):
        rest = ".".join(map(str, path[2:]))
        return f"{path[0]} {path[1] + 1}" + (f", {rest}" if rest else "")
    return spelling.shortened(".".join(map(str, path)))


def read_fields(
    table: Any,
    fields: Mapping[str, Callable[[Any], Any]],
    faults: FaultList,
    path: tuple[str | int, ...],
    other: Callable[[str], Callable[[Any], Any] | None] | None = None,
    others: Iterable[str] = (),
) -> dict[str, Any]:
    """Return the values of a table that could be read; the rest are added to the faults.

    `other` may give a reader for keys that are not in `fields`, some of which are `others`.
    """
    if not isinstance(table, dict):
        faults.add(BadInput("is not a table", mend=f"write [{place_words(path)}]"), path)
        return {}
    found = {}
    for key, value in table.items():
        reader = fields.get(key) or (other(key) if other else None)
        try:
            if reader is None:
                raise BadInput(
                    "this key is not known", mend=spelling.nearest(key, (*fields, *others))
                )
            found[key] = reader(value)
        except BadInput as fault:
            faults.add(fault, (*path, key))
    return found


def text(value: Any) -> str:
    """Return a plain text of at most MAX_TEXT characters without control characters."""
    if not isinstance(value, str):
        raise BadInput("is not a text", mend="put it in quotes")
    if len(value) > MAX_TEXT:
        raise BadInput(f"is longer than {MAX_TEXT} characters", mend="shorten it")
    for sign in value:
        if not (sign.isprintable() or sign == "\n") or 0x202A <= ord(sign) <= 0x202E:
            raise BadInput(f"holds the control character U+{ord(sign):04X}", mend="take it out")
    return value


def spelled(reader: Callable[[str], Any]) -> Callable[[Any], Any]:
    """Return a reader of long texts; a list of texts is joined by blanks."""

    def read(value: Any) -> Any:
        if isinstance(value, list) and all(isinstance(item, (str, int)) for item in value):
            value = " ".join(map(str, value))
        if isinstance(value, int) and not isinstance(value, bool):
            value = str(value)
        if not isinstance(value, str):
            raise BadInput("is not a text", mend="put it in quotes")
        return reader(value)

    return read


def tags(value: Any) -> tuple[str, ...]:
    """Return tags from a list of texts or one text with blanks."""
    words = value.split() if isinstance(value, str) else value
    if not isinstance(words, list):
        raise BadInput("is not a list of tags", mend='write ["orders", "singles"]')
    return tuple(text(word) for word in words)


def whole(low: int, high: int) -> Callable[[Any], int]:
    """Return a reader of whole numbers from low to high."""

    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise BadInput(
                f"{_shown(value)} is not a whole number from {low} to {high}",
                mend="write one in that range",
            )
        return value

    return read


def tempo(value: Any) -> float:
    """Return a tempo in BPM."""
    if (
        isinstance(value, bool)
        or not isinstance(value, (int, float))
        or not MIN_TEMPO <= value <= MAX_TEMPO
        or math.isnan(value)
    ):
        raise BadInput(
            f"{_shown(value)} is not a tempo from {MIN_TEMPO:g} to {MAX_TEMPO:g} BPM",
            mend="write a number in that range",
        )
    return float(value)


def tempo_unit(value: Any) -> Fraction:
    """Return the length in quarter notes of the note value that BPM counts."""
    return spelling.value(str(value)).length


def flag(value: Any) -> bool:
    """Return true or false."""
    if not isinstance(value, bool):
        raise BadInput(f"{_shown(value)} is neither true nor false", mend="write true or false")
    return value


def choice(*known: str) -> Callable[[Any], str]:
    """Return a reader of one word out of a few."""

    def read(value: Any) -> str:
        if value not in known:
            raise BadInput(f"{_shown(value)} is not known here", mend=f"write {', '.join(known)}")
        return str(value)

    return read


def meters(value: Any) -> tuple[Meter, ...]:
    """Return meters from `4/4` or a list of them that goes round bar by bar."""
    words = value.split() if isinstance(value, str) else value
    if not isinstance(words, list) or not 1 <= len(words) <= 64:
        raise BadInput(f"{_shown(value)} is not a meter", mend='write "4/4" or ["4/4", "7/8"]')
    return tuple(_meter(word) for word in words)


def order_count(value: Any) -> int:
    """Return 0 for "all", else how many orders are drawn."""
    if value == "all":
        return 0
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 10_000:
        raise BadInput(
            f"{_shown(value)} is not a choice of orders",
            mend='write "all" or a number from 1 to 10000',
        )
    return value


def _meter(word: Any) -> Meter:
    beats, _, unit = str(word).partition("/")
    if len(str(word)) <= 6 and beats.isdecimal() and unit.isdecimal():
        meter = Meter(int(beats), int(unit))
        if 1 <= meter.beats <= 64 and meter.unit in UNITS:
            return meter
    raise BadInput(
        f"{_shown(word)} is not a meter",
        mend=f"write 1 to 64 over one of {', '.join(map(str, UNITS))}, such as 7/8",
    )


def _shown(value: Any) -> str:
    try:
        return spelling.shortened(str(value))
    except ValueError:  # whole numbers of more than a few thousand digits refuse to be written
        return "such a huge number"
