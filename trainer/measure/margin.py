"""The margin: how far a ceiling stands above what a piece of music asks, in strokes a second.

A piece asks for a tempo and a note value: sixteenths at 152 BPM are 152 / 60 * 4 = 10.1 strokes a
second. A pattern's ceiling is a tempo; its fastest written hand strokes make it a rate too. The
margin is the one rate over the other, less one: +0.10 is a reserve of ten per cent.

- *safe*: what is asked lies below the tempo of three clean in four, even at the low end of its
  interval;
- *in reach*: it lies below the high end of the ceiling's interval;
- *above*: it does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.pattern.tables import HANDS, NOTE_VALUES

if TYPE_CHECKING:
    from fractions import Fraction

    from trainer.measure.ceiling import Ceiling
    from trainer.pattern.model import Pattern

SAFE, IN_REACH, ABOVE = "safe", "in reach", "above"


@dataclass(frozen=True, slots=True)
class Margin:
    """What is asked against what is there, both in strokes a second, and the verdict in a word.

    `margin` is the ceiling over what is asked, less one; `low` and `high` the same at the ends of
    the ceiling's interval.
    """

    asked: float
    ceiling: float
    margin: float
    low: float
    high: float
    standing: str


def asked_rate(tempo: float, value: str) -> float:
    """Return strokes a second of a note value (a name of NOTE_VALUES) at a tempo in quarters."""
    return tempo / 60.0 / float(NOTE_VALUES[value].length)


def fastest_step(pattern: Pattern) -> Fraction | None:
    """Return the least distance between two hand strokes, in quarter notes; None with no two.

    Where nobody said which limb plays, every stroke counts as a hand's. Grace strokes are left out.
    """
    beats = sorted(
        {note.beat for note in pattern.notes if not note.grace and note.limb in (*HANDS, None)}
    )
    return min((b - a for a, b in pairwise(beats)), default=None)


def pattern_rate(pattern: Pattern, tempo: float) -> float | None:
    """Return a pattern's fastest hand strokes a second at a tempo in the pattern's own unit."""
    step = fastest_step(pattern)
    return None if step is None else tempo * float(pattern.tempo_unit) / 60.0 / float(step)


def margin(asked: float, pattern: Pattern, found: Ceiling) -> Margin | None:
    """Compare a rate asked for (strokes a second) with a pattern's ceiling.

    None where the pattern has no two hand strokes to make a rate of.
    """
    rates = [
        pattern_rate(pattern, tempo)
        for tempo in (found.half.tempo, found.half.low, found.half.high, found.three_quarters.low)
    ]
    if any(rate is None for rate in rates):
        return None
    rate, low, high, sure = (float(rate or 0.0) for rate in rates)
    standing = SAFE if asked <= sure else IN_REACH if asked <= high else ABOVE
    return Margin(asked, rate, rate / asked - 1, low / asked - 1, high / asked - 1, standing)
