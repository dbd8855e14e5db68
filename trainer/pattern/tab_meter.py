"""The meter of a bar of tab that says none, by its steps, as drummers write them (common practice).

Steps that go into four quarters are a bar of 4/4. Six, or an odd number, are eighths; any other
number is of sixteenths. What was taken for granted is told in words.
"""

from __future__ import annotations

from trainer.pattern.model import Meter

MOST_BEATS = 64

_KINDS = {
    1: "whole notes", 2: "halves", 4: "quarters", 8: "eighths", 12: "eighth triplets",
    16: "sixteenths", 20: "sixteenth quintuplets", 24: "sixteenth triplets",
    28: "sixteenth septuplets", 32: "32nds",
}  # fmt: skip
"""What the steps of a bar of 4/4 are, by their number."""

_OTHERWISE = {
    6: 'write "meter: 3/4" above for eighths in 3/4',
    12: 'write "meter: 3/4" above for sixteenths in 3/4, "meter: 12/8" for eighths',
}
"""Numbers of steps that might as well mean another meter, and how to say so."""


def guessed(steps: int) -> Meter:
    """Return the meter of a bar of so many steps."""
    if steps % 4 == 0 or steps in _KINDS:
        return Meter()
    eighths = steps if _are_eighths(steps) else steps // 2
    return Meter(eighths, 8) if eighths <= MOST_BEATS else Meter()


def words(steps: int) -> str:
    """Return what was assumed of a bar of so many steps."""
    meter = guessed(steps)
    if meter.unit == 8:
        kind = "eighths" if _are_eighths(steps) else "sixteenths"
    else:
        kind = _KINDS.get(steps, "even steps")
    hint = f"; {_OTHERWISE[steps]}" if steps in _OTHERWISE else ""
    return f"meter: {meter}, as none is written and a bar has {steps} steps ({kind}{hint})"


def _are_eighths(steps: int) -> bool:
    return steps % 2 == 1 or steps == 6
