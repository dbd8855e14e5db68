"""The `[clean]` table of a TOML file: a strictness level by name, and figures that override it.

[clean]
level = "stage"
gap_ms = 12
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

from trainer.measure.clean import DEFAULT, LEVELS, Tolerance
from trainer.toml_file import FaultList, choice, number, read_fields

if TYPE_CHECKING:
    from collections.abc import Mapping

LARGEST = 1000.0

_READERS = {
    field.name: choice(*LEVELS) if field.name == "level" else number(0, LARGEST)
    for field in fields(Tolerance)
}


def tolerance(table: Mapping[str, Any], source: str = "") -> Tolerance:
    """Return the tolerance that a `[clean]` table asks for; `source` is the text it stands in.

    Raises BadInput, or Faults for several: an unknown key (with the nearest known one), an unknown
    level, a figure that is not a number from 0 to 1000.
    """
    faults = FaultList(source)
    found = read_fields(table, _READERS, faults, ("clean",))
    faults.tell()
    return replace(LEVELS[found.pop("level", DEFAULT.level)], **found)
