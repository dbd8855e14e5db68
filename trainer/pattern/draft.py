"""A pattern in the making: a file's table, or nothing, with a form of plain texts over it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput, Faults
from trainer.pattern import library
from trainer.pattern.language import changes, notation
from trainer.toml_text import changed_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainer.pattern.model import Pattern

_KEYS = {".".join(place): key for key, place in changes.PLACES.items()}


@dataclass(frozen=True, slots=True)
class Draft:
    """What is being composed. `fields` holds a text for each key of `changes.PLACES`, "" for none.

    `name` is the pattern it came from, empty for a new one; `own` is True for the player's own.
    `source` is the text that `table` was read from.
    """

    name: str = ""
    table: Mapping[str, Any] = field(default_factory=dict)
    fields: Mapping[str, str] = field(default_factory=dict)
    own: bool = False
    source: str = ""

    @classmethod
    def of(cls, name: str) -> Draft:
        """Return a draft of a pattern; raises BadInput where it is no TOML file."""
        path = library.find_pattern(name)
        if path.suffix.lower() != ".toml":
            raise BadInput(
                "only patterns written as TOML can be changed",
                where=path.name,
                fix="start a new one",
            )
        table, source = library.read_table(path)
        own = path.parent == library.pattern_folders()[0]
        return cls(path.stem, table, changes.said(table), own, source)

    def with_field(self, key: str, text: str) -> Draft:
        """Return the draft with another text in one field."""
        return replace(self, fields={**self.fields, key: text})

    def to_table(self) -> dict[str, Any]:
        """Return the table of the file it would be."""
        return changes.in_reference_order(changes.drafted(self.table, self.fields))

    def to_text(self) -> str:
        """Return the file it would be, with the comments and the order of the one it came from."""
        return changed_text(self.source, self.table, self.to_table())

    def saved_as(self, name: str, text: str) -> Draft:
        """Return the draft of the player's own file that was saved with this text."""
        return replace(self, name=name, table=self.to_table(), own=True, source=text)

    def pattern(self) -> Pattern:
        """Return the pattern; raises BadInput or Faults with their keys."""
        return library.for_own_kit(
            notation.read(self.to_table(), self.name or "new", load=library.load_as_written)
        )


def faults_by_field(fault: BadInput) -> dict[str, list[str]]:
    """Return the words of faults by their field, "" for those that have none.

    The place is left out where the field says it.
    """
    found: dict[str, list[str]] = {}
    for one in fault.faults if isinstance(fault, Faults) else [fault]:
        place, _, inside = (one.where or "").partition(", ")
        key = _KEYS.get(place, "")
        where = (inside or None) if key else one.where
        words = str(BadInput(one.what, where=where, fix=one.fix))
        found.setdefault(key, []).append(words)
    return found
