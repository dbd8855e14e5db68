"""Laying a pattern on a take that keeps no single count: across breaks, and along a drift.

A pass that is broken off and taken up again is laid in two pieces, a drifting one in pieces of
whole bars, each at the tempo it was played at. A piece is a `Pass` that is asked for from `from_s`
on and up to `end_s`; only the first piece of a pass has no `from_s`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from trainer.practice.course import Course, Pass, check_tempo, seconds_per_quarter

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.pattern.model import Pattern
    from trainer.practice.columns import Bools
    from trainer.practice.fold import Shape
    from trainer.practice.pace import Stretch

LEAST_STROKES, LEAST_PLAYED = 24, 0.6
"""A stretch counts with so many strokes, and so large a share of the notes it runs over."""

TIGHT = 0.5
"""Strokes that agree by chance lie anywhere as far as they may, and so vary by 0.58 of that."""

PIECE_STROKES = 24
"""Fewest strokes of a piece that has a tempo of its own."""

SMOOTHED = 9
"""Strokes whose median tells where the player stands against a steady tempo."""

JUST_S = 1e-6
"""Pieces begin and end so much before a beat, so that rounding puts no stroke into both."""

PAST = 1e-3
"""A piece that is broken off holds its last note, so it ends so many quarters after it."""


@dataclass(frozen=True)
class Break:
    """Where a count is broken off and where it is taken up: seconds, quarters of the pattern."""

    last_s: float
    next_s: float
    last_beat: float
    next_beat: float


def worth_laying(shape: Shape, found: list[Stretch], quarter_s: float) -> list[Stretch]:
    """Return the stretches that hold enough of the pattern, and tightly; noodling does neither."""
    return [one for one in found if _played(shape, one, quarter_s)]


def _played(shape: Shape, one: Stretch, quarter_s: float) -> bool:
    if len(one.beats) < LEAST_STROKES:
        return False
    span = float(one.beats[-1] - one.beats[0]) / shape.length
    lag = one.time_s - one.beats * quarter_s
    loose_s = float(np.std(np.diff(lag))) / math.sqrt(2)
    enough = len(one.beats) >= LEAST_PLAYED * span * len(shape.beat)
    return enough and loose_s <= TIGHT * shape.own_s(quarter_s)


def swing(shape: Shape, one: Stretch, quarter_s: float) -> float:
    """Return how far, in seconds, a stretch runs to and fro against a steady tempo.

    Where strokes agree by chance only, as when somebody noodles before the start, nothing is told.
    """
    lag = one.time_s - one.beats * quarter_s
    if len(lag) < SMOOTHED:
        return 0.0
    runs = np.lib.stride_tricks.sliding_window_view(lag, SMOOTHED)
    loose_s = np.std(np.diff(runs, axis=1), axis=1) / math.sqrt(2)
    medians = np.median(runs, axis=1)[loose_s <= TIGHT * shape.own_s(quarter_s)]
    return float(np.ptp(medians)) if len(medians) else 0.0


def breaks(found: list[Stretch]) -> list[Break]:
    """Return the breaks between stretches."""
    return [
        Break(float(a.time_s[-1]), float(b.time_s[0]), float(a.beats[-1]), float(b.beats[0]))
        for a, b in pairwise(found)
    ]


def lay(pattern: Pattern, shape: Shape, found: list[Stretch], tempo: float | None) -> Course:
    """Return the course of some stretches: all at one tempo (BPM), or each piece at its own."""
    passes: list[Pass] = []
    for place, one in enumerate(found):
        ends = place == 0, place == len(found) - 1
        for number, (bpm, start_s, from_s, end_s) in enumerate(
            _pieces(pattern, shape, one, tempo, ends), len(passes)
        ):
            passes.append(Pass(number, bpm, start_s, end_s=end_s, from_s=from_s))
    return Course(pattern, tuple(passes))


def _pieces(
    pattern: Pattern, shape: Shape, one: Stretch, tempo: float | None, ends: tuple[bool, bool]
) -> Iterator[tuple[float, float, float | None, float | None]]:
    """Yield tempo, start, from and end of every piece of a stretch.

    `ends` say whether it is the first and the last one: the take may begin or end within a pass.
    """
    first, last = float(one.beats[0]), float(one.beats[-1])
    laps = _laps(shape, one, ends[0])
    steps = [0.0] if tempo is not None else [float(bar.start) for bar in pattern.bars]
    cuts = _cuts(shape, one, [n * shape.length + step for n in laps for step in steps])
    whole = (laps[-1] + 1) * shape.length
    for begin, end in zip(cuts, [*cuts[1:], whole], strict=True):
        bpm, zero_s = _line(pattern, one, tempo, begin, end)
        quarter_s = seconds_per_quarter(pattern, bpm)
        lap = math.floor(begin / shape.length + JUST_S)
        asked = begin if ends[0] or begin > first else first
        until = end if ends[1] or end <= last else last + PAST
        starts = asked > lap * shape.length + float(shape.beat[0])
        stops = until < (lap + 1) * shape.length
        yield (
            bpm,
            zero_s + lap * shape.length * quarter_s,
            zero_s + asked * quarter_s - JUST_S if starts else None,
            zero_s + until * quarter_s - JUST_S if stops else None,
        )


def _laps(shape: Shape, one: Stretch, is_first: bool) -> list[int]:
    """Return the passes of a stretch; the take begins with one of which half was played."""
    lap = np.floor(one.beats / shape.length + JUST_S).astype(int)
    numbers, counts = np.unique(lap, return_counts=True)
    every = list(range(int(numbers[0]), int(numbers[-1]) + 1))
    if is_first and len(every) > 1 and counts[0] < len(shape.beat) / 2:
        return every[1:]
    return every


def _cuts(shape: Shape, one: Stretch, wished: list[float]) -> list[float]:
    """Return where pieces begin: the wished places that leave each one enough strokes.

    A pass always begins a piece.
    """
    kept = [wished[0]]
    for place in wished[1:]:
        inside = np.count_nonzero((one.beats >= kept[-1]) & (one.beats < place))
        rest = np.count_nonzero(one.beats >= place)
        new_pass = math.remainder(place, shape.length) == 0.0
        if new_pass or (inside >= PIECE_STROKES and rest >= PIECE_STROKES):
            kept.append(place)
    return kept


def _line(
    pattern: Pattern, one: Stretch, tempo: float | None, begin: float, end: float
) -> tuple[float, float]:
    """Return the tempo of a piece and the moment of its stretch's quarter 0, by its strokes."""
    if tempo is not None:
        lag = one.time_s - one.beats * seconds_per_quarter(pattern, tempo)
        return tempo, float(np.median(lag))
    those = (one.beats >= begin) & (one.beats < end)
    if np.count_nonzero(those) < PIECE_STROKES // 2:
        those = _nearest(one, (begin + end) / 2)
    middle = float(one.beats[those].mean())
    quarter_s, at_s = np.polyfit(one.beats[those] - middle, one.time_s[those], 1)
    bpm = check_tempo(60.0 / (float(quarter_s) * float(pattern.tempo_unit)))
    return bpm, float(at_s) - middle * float(quarter_s)


def _nearest(one: Stretch, beat: float) -> Bools:
    """Return which strokes are nearest to a place, enough of them for a line."""
    away = np.abs(one.beats - beat)
    near: Bools = away <= np.sort(away)[min(PIECE_STROKES, len(away)) - 1]
    return near
