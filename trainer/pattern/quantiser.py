"""The quantiser: the shortest sensible grid, and which note values a row of strokes was written in.

A bar is cut into windows (a beat, half a beat, or the two or four beats a wide tuplet needs), and
each window gets one note value. Of all ways to do so the cheapest wins: every step of the grid
costs one, so eighths win over sixteenths at the same places, and a stroke beside its step costs
the square of its distance in spreads. The spread is a tick in a file that was written on a grid
and some milliseconds in one that was played.

Places are whole numbers, `UNIT` to a quarter note.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.pattern.model import NOTE_VALUES, USUAL_VALUES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.model import Bar, Meter

UNIT = math.lcm(*(value.length.denominator for value in NOTE_VALUES.values())) * 8
"""Every note value, tuplets included, is a whole number of these parts of a quarter note."""

HALF_BEAT_COST = 1.5
"""What cutting a beat in two costs, so that it is done only for two different note values."""

DOUBT_COST = 100.0
"""What it costs that a window fits only by the next spread."""

PLAYED_STEP_COST, PLAYED_ODD_COST = 2.5, 6.0
"""What a step costs where strokes were played, and what fives and sevens cost on top."""

PLAYED_VALUES = frozenset(("4.", "4", "4t", "8.", "8", "8t", "16", "16t", "16q", "16s", "32", "64"))

NEVER = 1e9
"""The cost of two strokes of one voice on one step: taken only where there is no other way."""


@dataclass(frozen=True, slots=True)
class Onset:
    """A stroke to be placed: where it was found, and on what (one voice and zone, one name)."""

    place: int
    what: str


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a stroke belongs: its beat in quarter notes and its note value."""

    beat: Fraction
    value: str


@dataclass(frozen=True, slots=True)
class Spread:
    """How far strokes are from their steps: the usual distance, and the largest believed.

    `played` strokes are put on common values only, and a finer grid needs more to speak for it.
    `rare` values may be meant beside the usual ones.
    """

    usual: float
    largest: float
    played: bool = False
    rare: tuple[str, ...] = ()


GridPlaces = tuple[tuple[int, str], ...]
"""Strokes as (place, what), sorted."""


@dataclass(frozen=True, slots=True)
class NoteWindow:
    """A stretch of a bar in one note value: its start in the bar and its length (quarter notes),
    and the step of each of its strokes, counted in the value.
    """

    start: Fraction
    length: Fraction
    value: str
    steps: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Fit:
    cost: float
    value: str
    steps: tuple[int, ...]


def quantise(
    onsets: Sequence[Onset], bars: Sequence[Bar], spreads: tuple[Spread, ...]
) -> list[Placed]:
    """Return where each onset belongs, in the same order (onsets must be sorted by place).

    `spreads` are believed in turn, the next one where a window fits none of the values by those
    before. An onset that is just before a bar line, within the first one's largest distance,
    belongs to it.
    """
    found: list[Placed] = []
    index = 0
    for bar in bars:
        end = _units(bar.end) - spreads[0].largest
        first = index
        while index < len(onsets) and (onsets[index].place < end or bar is bars[-1]):
            index += 1
        if index > first:
            start = _units(bar.start)
            inside = tuple((onset.place - start, onset.what) for onset in onsets[first:index])
            for window in note_windows(inside, bar.meter, spreads):
                first_beat, size = bar.start + window.start, NOTE_VALUES[window.value].length
                found += [Placed(first_beat + step * size, window.value) for step in window.steps]
    return found


EXACT = (Spread(1.0, 1.0),)
"""The spread of strokes that are exactly where they were written."""


def values_of(notes: Sequence[tuple[Fraction, str]], bars: Sequence[Bar]) -> list[str]:
    """Return the note values of strokes given as (beat, what), sorted, at exact places."""
    onsets = [Onset(_units(beat), what) for beat, what in notes]
    return [placed.value for placed in quantise(onsets, bars, EXACT)]


def share_on_grid(onsets: Sequence[Onset], rounding: float) -> float:
    """Return the share of onsets that are on some common grid, to a rounding (in places)."""
    steps = [UNIT // parts for parts in (8, 12, 5, 7)]
    hits = sum(
        any(min(onset.place % step, -onset.place % step) <= rounding for step in steps)
        for onset in onsets
    )
    return hits / len(onsets) if onsets else 1.0


def _units(beat: Fraction) -> int:
    return int(beat * UNIT)


@lru_cache(maxsize=20_000)
def note_windows(
    inside: GridPlaces, meter: Meter, spreads: tuple[Spread, ...]
) -> tuple[NoteWindow, ...]:
    """Return the cheapest row of windows that fills a bar (places count from its start)."""
    choices = _choices(meter)
    count = len(choices)
    edges = [rows[0].at - spreads[0].largest for rows in choices]
    starts = [0, *(_first_at(inside, edge) for edge in edges[1:]), len(inside)]
    best: list[tuple[float, int, NoteWindow | None]] = [(0.0, count, None)] * (count + 1)
    for index in reversed(range(count)):
        found: list[tuple[float, int, NoteWindow | None]] = []
        for choice in choices[index]:
            struck = inside[starts[index] : starts[choice.after]]
            row = tuple((place - choice.at, what) for place, what in struck)
            fit = _fit(row, choice.length, spreads)
            if fit:
                cost = fit.cost + choice.cost + best[choice.after][0]
                window = NoteWindow(choice.start, choice.length, fit.value, fit.steps)
                found.append((cost, choice.after, window))
        best[index] = min(found, key=lambda one: one[0])
    return _read_off(best)


def _read_off(best: list[tuple[float, int, NoteWindow | None]]) -> tuple[NoteWindow, ...]:
    found: list[NoteWindow] = []
    index = 0
    while index < len(best) - 1:
        _, index, window = best[index]
        if window:
            found.append(window)
    return tuple(found)


@dataclass(frozen=True, slots=True)
class _Choice:
    """A window that may start somewhere in a bar: where (in quarters and in units), how long, the
    index of the start after it, and what it costs to cut the bar this way.
    """

    start: Fraction
    at: int
    length: Fraction
    after: int
    cost: float


@lru_cache(maxsize=64)
def _choices(meter: Meter) -> tuple[tuple[_Choice, ...], ...]:
    """Return for each place a window may start on in a bar the windows that may start there."""
    step, lengths = _windows(meter)
    count = int(meter.length / step)
    found = []
    for index in range(count):
        start = index * step
        row = []
        for length in lengths:
            after = index + int(length / step)
            if after <= count and not start % length:
                cut = HALF_BEAT_COST if length < 1 and meter.unit <= 4 else 0.0
                row.append(_Choice(start, _units(start), length, after, cut))
        found.append(tuple(row))
    return tuple(found)


def _first_at(inside: GridPlaces, edge: float) -> int:
    return sum(one < edge for one, _ in inside)


@lru_cache(maxsize=64)
def _windows(meter: Meter) -> tuple[Fraction, tuple[Fraction, ...]]:
    """Return the step windows may start on and the lengths they may have, in quarter notes."""
    half = Fraction(1, 2)
    if meter.unit <= 4:
        return half, (Fraction(1), half, Fraction(2), Fraction(4))
    if meter.unit == 8 and meter.in_threes:
        return half, (half * 3, half)
    beat = meter.beat
    return beat, tuple(beat * 2**power for power in range(7) if beat * 2**power <= 1)


@lru_cache(maxsize=64)
def _values(length: Fraction, rare: tuple[str, ...] = ()) -> tuple[tuple[str, int], ...]:
    """Return the values that may fill a window, with their steps in it, fewest steps first.

    They are the usual ones and some `rare` ones.
    Wide windows are for wide tuplets alone; a dotted quarter is filled by plain values (compound
    meters), by its own dotted ones, by one tuplet, or by nothing finer than 64ths.
    """
    found = []
    for value in (*USUAL_VALUES.values(), *(NOTE_VALUES[name] for name in rare)):
        steps = length / value.length
        if steps.denominator != 1:
            continue
        if length > 1 and length.denominator == 1:
            fits = value.actual > 1 and steps == value.actual
        elif value.dots or value.actual > 1:
            filled = value.actual == 1 or steps == value.actual
            fits = filled if length > 1 else not value.dots
        else:
            fits = True
        if fits:
            found.append((value.name, int(steps)))
    return tuple(sorted(found, key=lambda row: (row[1], "." in row[0])))


@lru_cache(maxsize=50_000)
def _fit(row: GridPlaces, length: Fraction, spreads: tuple[Spread, ...]) -> _Fit | None:
    """Return the cheapest value for one window, None where it cannot hold the strokes at all."""
    wide = length > 1 and length.denominator == 1
    if not row:
        return None if wide else _Fit(0.0, _values(length)[0][0], ())
    fits: list[_Fit] = []
    for doubt, spread in enumerate(spreads):
        fits = [
            _with(row, name, steps, length, spread)
            for name, steps in _values(length, spread.rare)
            if not spread.played or name in PLAYED_VALUES
        ]
        within = [fit for fit in fits if fit.cost < NEVER]
        if within:
            best = min(within, key=lambda fit: fit.cost)
            return _Fit(best.cost + doubt * DOUBT_COST, best.value, best.steps)
    return None if wide or not fits else min(fits, key=lambda fit: fit.cost)


def _with(row: GridPlaces, name: str, count: int, length: Fraction, spread: Spread) -> _Fit:
    """Return what it costs to write a window in one value."""
    size = int(length * UNIT / count)
    steps, cost, seen = [], float(count), set()
    if spread.played:
        odd = NOTE_VALUES[name].actual > 3
        cost = count * PLAYED_STEP_COST + odd * PLAYED_ODD_COST
    for one, what in row:
        step = min(max(round(one / size), 0), count - 1)
        away = abs(one - step * size)
        cost += (away / spread.usual) ** 2
        if (step, what) in seen or away > spread.largest:
            cost += NEVER
        seen.add((step, what))
        steps.append(step)
    return _Fit(cost, name, tuple(steps))
