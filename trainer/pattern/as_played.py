"""Where and how loud written strokes are due: swing, tempo changes and dynamics, worked out once.

Written places are quarter notes from the pattern's start, as exact fractions. Played places are
quarter notes of the pattern's own tempo, as floats: times the length of a quarter at the tempo of
a pass they are seconds. Without swing and tempo changes both are the same number.

Swing moves plain strokes: the first of two takes its share of their time, and all that is written
inside either moves along evenly. Strokes of tuplets stay where they are written. Pairs are counted
from each bar line; half a pair at a bar's end is straight.

In a gradual change the length of a beat grows or shrinks evenly from beat to beat (our own choice;
only sums, products and roots are needed, which every processor rounds alike).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from math import floor, sqrt
from typing import TYPE_CHECKING

from trainer.pattern.model import DYNAMICS, NOTE_VALUES

if TYPE_CHECKING:
    from fractions import Fraction

    from trainer.pattern.model import Bar, Meter, Note, Pattern, Swing, TempoChange


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A stretch of one tempo, or of one gradual change, from a written to a played place.

    `pace` is played quarters a written quarter at its start, `bend` half of what that grows by in
    each quarter.
    """

    start: float
    played: float
    pace: float = 1.0
    bend: float = 0.0

    def at(self, beat: float) -> float:
        """Return where a written place inside is played."""
        inside = beat - self.start
        return self.played + (self.pace + self.bend * inside) * inside

    def back(self, played: float) -> float:
        """Return the written place that is played at a place inside."""
        inside = played - self.played
        root = sqrt(max(0.0, self.pace * self.pace + 4 * self.bend * inside))
        return self.start + 2 * inside / (self.pace + root)


@dataclass(frozen=True, slots=True)
class _SwungBar:
    """A bar of swing: where it begins, its whole pairs' end, a pair's length and the share."""

    start: float
    end: float
    pair: float
    share: float

    def at(self, beat: float) -> float:
        """Return where a place in the bar moves to."""
        pair = self.start + floor((beat - self.start) / self.pair) * self.pair
        part = (beat - pair) / self.pair
        if part <= 0.5:
            return pair + 2 * part * self.share * self.pair
        return pair + (self.share + (2 * part - 1) * (1 - self.share)) * self.pair

    def back(self, beat: float) -> float:
        """Return the place that moves to a place in the bar."""
        pair = self.start + floor((beat - self.start) / self.pair) * self.pair
        part = (beat - pair) / self.pair
        if part <= self.share:
            return pair + part / self.share / 2 * self.pair
        return pair + (0.5 + (part - self.share) / (1 - self.share) / 2) * self.pair


class PlayedPlaces:
    """The played places of one pattern. `notes` holds one for each note, in their order.

    A grace stroke has the place of its main stroke. `louder` is what dynamics add to each note.
    """

    def __init__(self, pattern: Pattern) -> None:
        self._stretches = _stretches(pattern)
        self._starts = [one.start for one in self._stretches]
        self._swung = [bar for swing in pattern.swing for bar in _swung_bars(swing, pattern.bars)]
        self._swung_starts = [bar.start for bar in self._swung]
        self.even = not (pattern.swing or pattern.tempo_changes)
        self.length = self.in_tempo(float(pattern.length))
        self.notes = tuple(
            self.at(note.beat)
            if NOTE_VALUES[note.value].actual == 1
            else self.in_tempo(float(note.beat))
            for note in pattern.notes
        )
        self.louder = tuple(louder_than_mf(pattern, note.beat) for note in pattern.notes)

    def at(self, beat: Fraction | float) -> float:
        """Return where a written place is played; before the start all continues as at it."""
        place = float(beat)
        bar = self._swung_bar(place)
        return self.in_tempo(bar.at(place) if bar else place)

    def written(self, played: float) -> float:
        """Return the written place, in quarter notes, that is played at a place."""
        stretch = self._stretches[0]
        for one in self._stretches[1:]:
            if one.played > played:
                break
            stretch = one
        place = stretch.back(played)
        bar = self._swung_bar(place)
        return bar.back(place) if bar else place

    def pace(self, beat: Fraction | float) -> float:
        """Return how many played quarters a written quarter takes at a place; swing aside."""
        stretch = self._stretch(float(beat))
        return stretch.pace + 2 * stretch.bend * (float(beat) - stretch.start)

    def in_tempo(self, place: float) -> float:
        """Return where a written place is played by the tempo alone, without swing."""
        return self._stretch(place).at(place)

    def _stretch(self, place: float) -> _Stretch:
        return self._stretches[max(0, bisect_right(self._starts, place) - 1)]

    def _swung_bar(self, place: float) -> _SwungBar | None:
        if not self._swung:
            return None
        bar = self._swung[max(0, bisect_right(self._swung_starts, place) - 1)]
        counted_in = place < 0.0 == bar.start
        return bar if counted_in or bar.start <= place < bar.end else None


class _Same:
    """A pattern as a key of a cache: the same object, not an equal one, which is slow to find."""

    __slots__ = ("pattern",)

    def __init__(self, pattern: Pattern) -> None:
        self.pattern = pattern

    def __hash__(self) -> int:
        return id(self.pattern)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.pattern is self.pattern


def played_places(pattern: Pattern) -> PlayedPlaces:
    """Return where a pattern's places are played; worked out once for the last few patterns."""
    return _kept_places(_Same(pattern))


@lru_cache(maxsize=4)
def _kept_places(key: _Same) -> PlayedPlaces:
    return PlayedPlaces(key.pattern)


def _stretches(pattern: Pattern) -> list[_Stretch]:
    found = [_Stretch(0.0, 0.0)]
    for change in pattern.tempo_changes:
        start = float(change.start)
        played = found[-1].at(start)
        if found[-1].start == start:
            found.pop()
        found += _changed(change, pattern.tempo, start, played)
    return found


def _changed(change: TempoChange, tempo: float, start: float, played: float) -> list[_Stretch]:
    """Return the stretch of a change; where it is gradual, that of the tempo it reaches too."""
    pace = tempo / change.tempo
    if change.end is None:
        return [_Stretch(start, played, pace)]
    after = tempo / change.to
    end = float(change.end)
    moving = _Stretch(start, played, pace, (after - pace) / (2 * (end - start)))
    return [moving, _Stretch(end, moving.at(end), after)]


def _swung_bars(swing: Swing, bars: tuple[Bar, ...]) -> list[_SwungBar]:
    pair = 2 * NOTE_VALUES[swing.value].length
    inside = (bar for bar in bars if swing.start <= bar.start < swing.end)
    return [
        _SwungBar(
            float(bar.start),
            float(bar.start + bar.meter.length // pair * pair),
            float(pair),
            float(swing.share),
        )
        for bar in inside
    ]


MARK_STEP = 12.0
"""Steps of velocity from one mark to the next: our own choice, no standard says any."""

_MF = DYNAMICS.index("mf")


def louder_than_mf(pattern: Pattern, beat: Fraction) -> float:
    """Return how much louder than mf a place is written, in steps of velocity; 0 without a mark."""
    loud = loudness(pattern, beat) if pattern.dynamics else None
    return 0.0 if loud is None else MARK_STEP * (loud - _MF)


def hairpin_at(pattern: Pattern, beat: Fraction) -> int:
    """Return which of the pattern's dynamics is moving at a beat, -1 where none is."""
    at = bisect_right(pattern.dynamics, beat, key=lambda one: one.start) - 1
    end = pattern.dynamics[at].end if at >= 0 else None
    return at if end is not None and beat < end else -1


def loudness(pattern: Pattern, beat: Fraction) -> float | None:
    """Return how loud a place is written: the number of its mark in DYNAMICS, between two in a
    crescendo or diminuendo. None before the first mark.
    """
    at = bisect_right(pattern.dynamics, beat, key=lambda one: one.start) - 1
    if at < 0:
        return None
    one = pattern.dynamics[at]
    low = DYNAMICS.index(one.mark)
    if one.end is None:
        return float(low)
    part = min(1.0, float((beat - one.start) / (one.end - one.start)))
    return low + part * (DYNAMICS.index(one.to) - low)


GRACE_S = 0.030
"""Written distance of the nearest grace stroke before its main stroke, in seconds."""


def grace_lead_s(note: Note, quarter_s: float) -> float:
    """Return the seconds a grace stroke leads by: one takes up to a third of a step, two a half."""
    step_s = float(NOTE_VALUES[note.value].length) * quarter_s
    return min(note.grace * GRACE_S, step_s * note.grace / (note.grace + 2))


def beat_length(pattern: Pattern, meter: Meter) -> Fraction:
    """Return the length of one beat in quarter notes, as it is clicked, shown and counted.

    The written beat, or the dotted note the tempo counts where that fills the bar.
    """
    counted = pattern.tempo_unit
    dotted = counted > meter.beat and counted.numerator % 3 == 0
    return counted if dotted and (meter.length / counted).denominator == 1 else meter.beat


def bar_beats(pattern: Pattern, meter: Meter) -> int:
    """Return how many beats a bar has."""
    return int(meter.length / beat_length(pattern, meter))
