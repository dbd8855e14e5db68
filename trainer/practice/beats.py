"""The beats of a count-in and of a pass: when each falls, and what the click does on it.

The beat is the written one (the meter's lower number), or the note the tempo counts where that is
a dotted one that fills the bar (a 6/8 counted in dotted quarters has two beats).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.practice.course import beat_time, seconds_per_quarter

if TYPE_CHECKING:
    from fractions import Fraction

    from trainer.pattern.model import Meter, Pattern
    from trainer.practice.course import Pass

COUNT_IN, PLAYING = "count-in", "playing"


ACCENT, BEAT, SUB = "accent", "beat", "sub"
"""Kinds of click: on the bar's first beat, on another beat, between beats."""


@dataclass(frozen=True, slots=True)
class DueClick:
    """A click: when it is due and of which kind. A silent one is left out on purpose."""

    time_s: float
    kind: str
    silent: bool = False


@dataclass(frozen=True, slots=True)
class Beat:
    """One beat: its time, its bar and number in it from 0, how many the bar has, how long it is."""

    time_s: float
    phase: str
    bar: int
    beat: int
    beats: int
    length_s: float

    def clicks(self, parts: int, silent: bool) -> list[DueClick]:
        """Return the clicks of this beat: one on it, and `parts` - 1 evenly after it."""
        first = DueClick(self.time_s, BEAT if self.beat else ACCENT, silent)
        step = self.length_s / parts
        return [first, *(DueClick(self.time_s + k * step, SUB, silent) for k in range(1, parts))]


def beat_length(pattern: Pattern, meter: Meter) -> Fraction:
    """Return the length of one beat in quarter notes."""
    counted = pattern.tempo_unit
    dotted = counted > meter.beat and counted.numerator % 3 == 0
    return counted if dotted and (meter.length / counted).denominator == 1 else meter.beat


def count_in(pattern: Pattern, tempo: float, start_s: float, bars: int) -> list[Beat]:
    """Return the beats of `bars` bars in the first bar's meter that lead up to `start_s`."""
    meter = pattern.meter
    length = beat_length(pattern, meter)
    beats = int(meter.length / length)
    step = float(length) * seconds_per_quarter(pattern, tempo)
    first = start_s - bars * beats * step
    return [
        Beat(first + count * step, COUNT_IN, count // beats, count % beats, beats, step)
        for count in range(bars * beats)
    ]


def pass_beats(pattern: Pattern, one: Pass) -> list[Beat]:
    """Return every beat of one pass, bar by bar."""
    found = []
    for number, bar in enumerate(pattern.bars):
        length = beat_length(pattern, bar.meter)
        length_s = float(length) * seconds_per_quarter(pattern, one.tempo)
        beats = int(bar.meter.length / length)
        for count in range(beats):
            time_s = beat_time(pattern, one, bar.start + count * length)
            found.append(Beat(time_s, PLAYING, number, count, beats, length_s))
    return found
