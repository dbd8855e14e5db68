"""Whether a take keeps one count: where it breaks off and is taken up elsewhere, and how it drifts.

The take is cut into windows that overlap by half. In each, the strokes say by themselves at which
tempo and where in the pattern they are (`fold`); of all readings of all windows those are chosen
that agree with the most strokes and need the fewest breaks (dynamic programming). What lies between
two breaks is a stretch: its strokes are counted on, in quarter notes, through all of its passes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trainer.practice import fold

if TYPE_CHECKING:
    from trainer.practice.fold import Floats, Ints, Shape, Strokes

WINDOW_HITS = 32

MOST_STROKES = 20_000
"""A longer take (some half an hour of sixteenths and more) is not looked at: it would take long."""

TEMPOS = 1.0 + 0.015 * np.arange(-4, 5)
"""Each window is read at tempos around that of the take."""

BREAK = 0.8
"""A break costs as much as so large a share of a window's strokes."""

LEAST_AGREE = 0.6
"""A window of which no reading agrees with so many strokes says nothing."""

MOST_READINGS = 12


class Reading(NamedTuple):
    """One way to read a window: its tempo, when a pass begins, and the share that agrees."""

    quarter_s: float
    phase_s: float
    agree: float


@dataclass(frozen=True)
class Window:
    """Strokes `first` to `last` (not included), the middle of their time, and their readings."""

    first: int
    last: int
    middle_s: float
    readings: tuple[Reading, ...]


@dataclass(frozen=True)
class Stretch:
    """Strokes that keep one count: when they came (s), and their notes in quarters, counted on.

    The pattern begins at every multiple of its length.
    """

    time_s: Floats
    beats: Floats


def stretches(shape: Shape, strokes: Strokes, quarter_s: float) -> list[Stretch]:
    """Return the stretches of a take whose tempo is about known, in order of time."""
    if len(strokes.time_s) > MOST_STROKES:
        return []
    windows = [one for one in _windows(shape, strokes, quarter_s) if one.readings]
    if not windows:
        return []
    chosen, broken = _chosen(shape, windows)
    edges = [0, *(n for n, one in enumerate(broken) if one), len(windows)]
    limits = [0]
    for n in edges[1:-1]:
        limits.append(_edge(shape, strokes, windows[n - 1 : n + 1], chosen[n - 1 : n + 1]))
    limits.append(len(strokes.time_s))
    return [
        _counted_on(shape, strokes, windows[a:b], chosen[a:b], (limits[n], limits[n + 1]))
        for n, (a, b) in enumerate(pairwise(edges))
    ]


def local_fit(shape: Shape, strokes: Strokes, quarter_s: float) -> float:
    """Return how well the take fits window by window, each at its own tempo (see `fold.fit`)."""
    fits = [
        max(fold.fit(shape, strokes.between(*span), q).fit for q in quarter_s * TEMPOS)
        for span in _spans(len(strokes.time_s))
    ]
    return float(np.mean(fits))


def _spans(count: int) -> list[tuple[int, int]]:
    """Return where windows of so many hits begin and end, each half over the one before."""
    half = WINDOW_HITS // 2
    return [(at, min(at + WINDOW_HITS, count)) for at in range(0, max(1, count - half), half)]


def _windows(shape: Shape, strokes: Strokes, quarter_s: float) -> list[Window]:
    return [_window(shape, strokes, quarter_s, *span) for span in _spans(len(strokes.time_s))]


def _window(shape: Shape, strokes: Strokes, quarter_s: float, first: int, last: int) -> Window:
    part = strokes.between(first, last)
    middle_s = float(part.time_s[0] + part.time_s[-1]) / 2
    heaps = {one: fold.heaps(shape, part, one) for one in (quarter_s * TEMPOS).tolist()}
    best_s = max(heaps, key=lambda one: float(heaps[one].max()))
    readings = _readings(shape, heaps[best_s], best_s, len(part.time_s))
    return Window(first, last, middle_s, tuple(readings))


def _readings(shape: Shape, heaps: Floats, quarter_s: float, count: int) -> list[Reading]:
    """Return where in the pattern a window may stand: all heaps nearly as high as the highest."""
    circle_s, found = shape.length * quarter_s, list[Reading]()
    high = np.flatnonzero(heaps >= max(0.85 * float(heaps.max()), LEAST_AGREE * count))
    for place in high[np.argsort(-heaps[high], kind="stable")].tolist():
        phase_s = (place + 0.5) / len(heaps) * circle_s
        apart_s = 1.5 * shape.near_s(quarter_s)
        if all(abs(math.remainder(phase_s - one.phase_s, circle_s)) > apart_s for one in found):
            found.append(Reading(quarter_s, phase_s, min(1.0, float(heaps[place]) / count)))
        if len(found) == MOST_READINGS:
            break
    return found


def _chosen(shape: Shape, windows: list[Window]) -> tuple[list[Reading], list[bool]]:
    """Return the reading of every window, and whether the count is broken before it."""
    totals = [one.agree for one in windows[0].readings]
    ways: list[list[tuple[int, bool]]] = []
    for before, after in pairwise(windows):
        way: list[tuple[int, bool, float]] = []
        for new in after.readings:
            worth = [
                (total - BREAK * (not _goes_on(shape, before, old, after, new)), place)
                for place, (old, total) in enumerate(zip(before.readings, totals, strict=True))
            ]
            best, place = max(worth)
            way.append((place, best < totals[place], best + new.agree))
        ways.append([(place, broken) for place, broken, _ in way])
        totals = [total for *_, total in way]
    at = int(np.argmax(totals))
    chosen, broken = [windows[-1].readings[at]], list[bool]()
    for window, back in zip(windows[-2::-1], ways[::-1], strict=True):
        at, apart = back[at]
        chosen.append(window.readings[at])
        broken.append(apart)
    return chosen[::-1], [False, *broken[::-1]]


def _ahead(before: Window, old: Reading, after: Window, new: Reading) -> float:
    """Return how many quarters pass from the middle of a window to that of the next."""
    return 2 * (after.middle_s - before.middle_s) / (old.quarter_s + new.quarter_s)


def _slip(shape: Shape, before: Window, old: Reading, after: Window, new: Reading) -> float:
    """Return how far, in quarters, a window stands from where the one before it leads."""
    was = (before.middle_s - old.phase_s) / old.quarter_s
    stands = (after.middle_s - new.phase_s) / new.quarter_s
    return math.remainder(stands - was - _ahead(before, old, after, new), shape.length)


def _goes_on(shape: Shape, before: Window, old: Reading, after: Window, new: Reading) -> bool:
    slip_s = abs(_slip(shape, before, old, after, new)) * new.quarter_s
    return slip_s <= 0.8 * shape.own_s(new.quarter_s)


def _edge(shape: Shape, strokes: Strokes, windows: list[Window], chosen: list[Reading]) -> int:
    """Return the stroke with which a new count begins, between two windows.

    Of those that do as well but for one stroke, it is the one after the longest silence.
    """
    first, last = windows[0].first, windows[1].last
    part = strokes.between(first, last)
    near = [
        np.abs(fold.nearest(shape, part, one.phase_s, one.quarter_s)[1])
        <= shape.near_s(one.quarter_s)
        for one in chosen
    ]
    old, new = (np.concatenate([[0], np.cumsum(one)]) for one in near)
    agree = old + (new[-1] - new)
    silence = np.diff(part.time_s, prepend=part.time_s[0], append=part.time_s[-1])
    return first + int(np.argmax(np.where(agree >= agree.max() - 1, silence, -1.0)))


def _counted_on(
    shape: Shape,
    strokes: Strokes,
    windows: list[Window],
    chosen: list[Reading],
    limits: tuple[int, int],
) -> Stretch:
    """Return the strokes of a stretch that agree, each by the window whose middle is nearest."""
    first, last = limits
    part = strokes.between(first, last)
    middles = np.array([one.middle_s for one in windows])
    own = np.searchsorted((middles[1:] + middles[:-1]) / 2, part.time_s)
    beats = np.full(len(part.time_s), np.nan)
    count = (windows[0].middle_s - chosen[0].phase_s) / chosen[0].quarter_s
    for n, (window, one) in enumerate(zip(windows, chosen, strict=True)):
        if n:
            before = windows[n - 1], chosen[n - 1], window, one
            count += _ahead(*before) + _slip(shape, *before)
        turns = round((count - (window.middle_s - one.phase_s) / one.quarter_s) / shape.length)
        those = np.flatnonzero(own == n)
        number, offset = fold.nearest(
            shape, fold.Strokes(part.time_s[those], part.voice[those]), one.phase_s, one.quarter_s
        )
        agree = np.abs(offset) <= shape.own_s(one.quarter_s)
        beats[those[agree]] = _beats(shape, number[agree]) + turns * shape.length
    known = ~np.isnan(beats)
    return Stretch(part.time_s[known], beats[known])


def _beats(shape: Shape, number: Ints) -> Floats:
    """Return numbered notes in quarters from the first pass on."""
    turn, note = np.divmod(number, len(shape.beat))
    found: Floats = shape.beat[note] + turn * shape.length
    return found
