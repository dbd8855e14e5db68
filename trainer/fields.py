"""Checked reading of parsed JSON or TOML, one key at a time: the right kind and size, or BadInput.

Whatever comes from a file passes through here before it becomes a dataclass, so that wrong types,
NaN, huge numbers and endless lists are reported as faults of the file and never reach the
arithmetic.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

_FRACTION = re.compile(r"(\d{1,9})(?:/(\d{1,6}))?", re.ASCII)


def exact(text: object, what: str) -> Fraction:
    """Return a fraction of zero or more written as `7/4` or `3`."""
    found = _FRACTION.fullmatch(text) if isinstance(text, str) else None
    if not found or (found[2] and not int(found[2])):
        raise BadInput(f"{what} must be a fraction written as text", mend='write it like "7/4"')
    return Fraction(int(found[1]), int(found[2] or 1))


def json_number(value: object, what: str, low: float, high: float) -> float:
    """Return a finite number from `low` to `high`."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise BadInput(f"{what} must be a number")
    if not low <= value <= high or not math.isfinite(value):
        raise BadInput(f"{what} must be between {low:g} and {high:g}")
    return value


class Fields:
    """One table of a file. Every method names the key in its error; `where` names the table."""

    def __init__(self, row: object, where: str = "") -> None:
        if not isinstance(row, dict):
            raise BadInput("this must be a table of named values", where=where or None)
        self._row = row
        self._where = where

    def __contains__(self, key: str) -> bool:
        return self._row.get(key) is not None

    def __iter__(self) -> Iterator[str]:
        return iter(self._row)

    def _name(self, key: str) -> str:
        return f'"{key}" of {self._where}' if self._where else f'"{key}"'

    def _wanted(self, key: str) -> object:
        if key not in self:
            raise BadInput(f"{self._name(key)} is missing")
        return self._row[key]

    def text(self, key: str, default: str | None = None, longest: int = 2000) -> str:
        """Return a text; the default replaces a missing one, None makes it required."""
        if default is not None and key not in self:
            return default
        value = self._wanted(key)
        if not isinstance(value, str) or len(value) > longest:
            raise BadInput(f"{self._name(key)} must be a text of at most {longest} characters")
        return value

    def choice(self, key: str, among: Collection[str], default: str | None = None) -> str:
        """Return a text that is one of `among`."""
        value = self.text(key, default)
        if value not in among:
            raise BadInput(f'{self._name(key)} says "{value[:40]}", which is unknown')
        return value

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        """Return a finite number from `low` to `high`, as a float."""
        if default is not None and key not in self:
            return default
        return float(json_number(self._wanted(key), self._name(key), low, high))

    def whole(self, key: str, low: int, high: int, default: int | None = None) -> int:
        """Return a whole number from `low` to `high`."""
        if default is not None and key not in self:
            return default
        value = self._wanted(key)
        if isinstance(value, bool) or not isinstance(value, int):
            raise BadInput(f"{self._name(key)} must be a whole number")
        return int(json_number(value, self._name(key), low, high))

    def flag(self, key: str, default: bool | None = None) -> bool:
        """Return true or false."""
        if default is not None and key not in self:
            return default
        value = self._wanted(key)
        if not isinstance(value, bool):
            raise BadInput(f"{self._name(key)} must be true or false")
        return value

    def fraction(self, key: str, default: Fraction | None = None) -> Fraction:
        """Return an exact fraction of zero or more."""
        if default is not None and key not in self:
            return default
        return exact(self._wanted(key), self._name(key))

    def rows(self, key: str, most: int = 1000) -> list[object]:
        """Return a list of at most `most` values, empty where the key is missing."""
        value = self._row.get(key)
        if value is None:
            return []
        if not isinstance(value, list) or len(value) > most:
            raise BadInput(f"{self._name(key)} must be a list of at most {most}")
        return value

    def texts(self, key: str, most: int = 1000) -> tuple[str, ...]:
        """Return a list of texts."""
        found = self.rows(key, most)
        if not all(isinstance(one, str) and len(one) <= 2000 for one in found):
            raise BadInput(f"{self._name(key)} must be a list of texts")
        return tuple(str(one) for one in found)

    def numbers(self, key: str, most: int = 1000) -> tuple[float, ...]:
        """Return a list of finite numbers."""
        return tuple(
            float(json_number(one, self._name(key), -1e12, 1e12)) for one in self.rows(key, most)
        )

    def pick(self, *keys: str) -> dict[str, object]:
        """Return the values of some keys as they are, those that are missing left out."""
        return {key: self._row[key] for key in keys if key in self}

    def inside(self, key: str) -> Fields:
        """Return the table under a key, empty where it is missing."""
        return Fields(self._row[key] if key in self else {}, self._name(key))

    def table(self, key: str) -> dict[str, Any]:
        """Return the table under a key as it is, empty where it is missing."""
        return self.inside(key)._row
