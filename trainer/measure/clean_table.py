"""The `[clean]` table of a TOML file: a strictness level by name, and figures that override it.

[clean]
level = "stage"
gap_ms = 12
"""

from __future__ import annotations

from dataclasses import fields, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput, Faults
from trainer.measure.clean import DEFAULT, LEVELS, Tolerance

if TYPE_CHECKING:
    from collections.abc import Mapping

FIGURES = tuple(field.name for field in fields(Tolerance) if field.name != "level")
LARGEST = 1000.0


def tolerance(table: Mapping[str, Any]) -> Tolerance:
    """Return the tolerance that a `[clean]` table asks for.

    Raises Faults: one for each unknown key (with the nearest known one), unknown level, or figure
    that is not a number from 0 to 1000.
    """
    level = table.get("level", DEFAULT.level)
    figures = {key: value for key, value in table.items() if key != "level"}
    found = [_level_fault(level), *(_figure_fault(key, one) for key, one in figures.items())]
    faults = [fault for fault in found if fault]
    if faults:
        raise Faults(faults)
    changes: dict[str, Any] = {key: float(value) for key, value in figures.items()}
    return replace(LEVELS[level], **changes)


def _level_fault(level: object) -> BadInput | None:
    if isinstance(level, str) and level in LEVELS:
        return None
    return BadInput(
        f"there is no strictness level {_quoted(level)}",
        where="[clean] level",
        mend=f"choose one of {', '.join(LEVELS)}",
    )


def _figure_fault(key: str, value: object) -> BadInput | None:
    if key not in FIGURES:
        near = get_close_matches(key, FIGURES, 1, 0.4)
        mend = f'did you mean "{near[0]}"' if near else f"known are {', '.join(FIGURES)}"
        return BadInput(f'there is no figure "{key}"', where="[clean]", mend=mend)
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    if number and 0 <= float(value) <= LARGEST:  # type: ignore[arg-type]
        return None
    return BadInput(
        f"{_quoted(value)} is no use here",
        where=f"[clean] {key}",
        mend=f"give a number from 0 to {LARGEST:g}",
    )


def _quoted(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value)
