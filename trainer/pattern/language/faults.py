"""The faults of one written text, gathered so that all of them are reported at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from trainer.errors import BadInput, raise_faults

if TYPE_CHECKING:
    from collections.abc import Callable

T = TypeVar("T")

MOST_PLACES = 6
"""How many places of the same fault are listed."""


class TextFaults:
    """The faults of one text, each once with its places.

    `unit` is what the text is counted in, such as a step; places count from 1 as it is written,
    before repeats are written out.
    """

    def __init__(self, unit: str) -> None:
        self.unit = unit
        self.places: dict[int, int] = {}
        self._found: dict[str, tuple[BadInput, list[int]]] = {}

    def count(self, at: int) -> None:
        """Take note of a step that begins at a character of the text."""
        self.places.setdefault(at, len(self.places) + 1)

    def add(self, fault: BadInput, at: int | None = None) -> None:
        """Keep a fault of the step at a character, or of the whole text."""
        _, places = self._found.setdefault(str(fault), (fault, []))
        if at is not None:
            places.append(self.places[at])

    def reading(self, read: Callable[[], T], at: int) -> T | None:
        """Return what a reader of the step at a character returns, or keep its fault."""
        try:
            return read()
        except BadInput as fault:
            self.add(fault, at)
            return None

    def show(self) -> None:
        """Raise what was found: BadInput, or Faults for several."""
        faults = []
        for fault, places in self._found.values():
            if places:
                fault.at(self._where(sorted(set(places))))
            faults.append(fault)
        raise_faults(faults)

    def _where(self, places: list[int]) -> str:
        if len(places) == 1:
            return f"{self.unit} {places[0]}"
        shown = ", ".join(map(str, places[:MOST_PLACES]))
        more = len(places) - MOST_PLACES
        return f"{self.unit}s {shown}" + (f" and {more} more" if more > 0 else "")
