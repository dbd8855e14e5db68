"""Where the count of a take is interrupted, and where it drifts in tempo, section by section.

In windows that overlap by half, the strokes alone show their tempo and place (`tempo_search`); the
fits with the most agreeing strokes and the fewest breaks are chosen (dynamic programming). Between
two breaks is a section: its strokes are counted in quarters, pass after pass.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import islice, pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trainer.practice import tempo_search

if TYPE_CHECKING:
    from trainer.practice.arrays import Floats, Ints
    from trainer.practice.tempo_search import Shape, Strokes


WINDOW_HITS = 32

MOST_STROKES = 20_000
"""A longer take (some half an hour of sixteenths and more) is not looked at: it would take long."""

TEMPOS = 1.0 + 0.015 * np.arange(-4, 5)
"""Each window is read at tempos around that of the take."""

BREAK_COST = 0.8
"""A break costs as much as so large a share of a window's strokes."""

LEAST_AGREE = 0.6
"""A window of which no reading agrees with so many strokes says nothing."""

EDGE_STROKES = 16
"""So many strokes at the edge of a stretch show where the player is there."""

MOST_READINGS = 12


class WindowFit(NamedTuple):
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
    readings: tuple[WindowFit, ...]


@dataclass(frozen=True)
class Section:
    """Strokes that keep one count: when they came (s), and their notes in quarters, counted on.

    Both arrays are shaped (strokes,). The pattern begins at every multiple of its length.
    """

    time_s: Floats
    beats: Floats


def find_sections(shape: Shape, strokes: Strokes, quarter_s: float) -> list[Section]:
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


def without_detours(shape: Shape, found: list[Section], quarter_s: float) -> list[Section]:
    """Return stretches without those after which an earlier count continues as if nothing was.

    There another bar was played than the written one: that is no break, and its strokes are judged
    against what is written.
    """
    kept: list[Section] = []
    for one in found:
        for place in range(len(kept)):
            turns = _turns_to_continue(shape, kept[place], one, quarter_s)
            if turns is not None:
                before = kept[place]
                beats = one.beats + turns * shape.length
                one = Section(
                    np.concatenate([before.time_s, one.time_s]),
                    np.concatenate([before.beats, beats]),
                )
                del kept[place:]
                break
        kept.append(one)
    return kept


def _turns_to_continue(
    shape: Shape, before: Section, after: Section, quarter_s: float
) -> int | None:
    """Return by how many passes a stretch is numbered too low to continue another; None if none."""
    if not len(before.beats) or not len(after.beats):
        return None
    was, now = (
        float(np.median(one.time_s[part] - one.beats[part] * quarter_s))
        for one, part in ((before, slice(-EDGE_STROKES, None)), (after, slice(EDGE_STROKES)))
    )
    turns = (now - was) / quarter_s / shape.length
    slip_s = abs(turns - round(turns)) * shape.length * quarter_s
    return round(turns) if slip_s <= 0.8 * shape.own_s(quarter_s) else None


def local_fit(shape: Shape, strokes: Strokes, quarter_s: float) -> float:
    """Return how well the take fits window by window, each at its own tempo (see `fold.fit`)."""
    fits = [
        max(tempo_search.fit(shape, strokes.between(*span), q).fit for q in quarter_s * TEMPOS)
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
    heaps = {
        one: tempo_search.begin_votes(shape, part, one) for one in (quarter_s * TEMPOS).tolist()
    }
    best_s = max(heaps, key=lambda one: float(heaps[one].max()))
    readings = _readings(shape, heaps[best_s], best_s, len(part.time_s))
    return Window(first, last, middle_s, tuple(readings))


def _readings(shape: Shape, heaps: Floats, quarter_s: float, count: int) -> list[WindowFit]:
    """Return where in the pattern a window may be: all heaps nearly as high as the highest."""
    least = max(0.85 * float(heaps.max()), LEAST_AGREE * count)
    apart_s = 1.5 * shape.near_s(quarter_s)
    found = tempo_search.highest_moments(heaps, shape.length * quarter_s, least, apart_s)
    return [
        WindowFit(quarter_s, phase_s, min(1.0, votes / count))
        for phase_s, votes in islice(found, MOST_READINGS)
    ]


def _chosen(shape: Shape, windows: list[Window]) -> tuple[list[WindowFit], list[bool]]:
    """Return the reading of every window, and whether the count is broken before it."""
    totals = [one.agree for one in windows[0].readings]
    ways: list[list[tuple[int, bool]]] = []
    for before, after in pairwise(windows):
        way: list[tuple[int, bool, float]] = []
        for new in after.readings:
            worth = [
                (total - BREAK_COST * (not _continues(shape, before, old, after, new)), place)
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


def _ahead(before: Window, old: WindowFit, after: Window, new: WindowFit) -> float:
    """Return how many quarters pass from the middle of a window to that of the next."""
    return 2 * (after.middle_s - before.middle_s) / (old.quarter_s + new.quarter_s)


def _slip(shape: Shape, before: Window, old: WindowFit, after: Window, new: WindowFit) -> float:
    """Return how far, in quarters, a window is from where the one before it leads."""
    was = (before.middle_s - old.phase_s) / old.quarter_s
    stands = (after.middle_s - new.phase_s) / new.quarter_s
    return math.remainder(stands - was - _ahead(before, old, after, new), shape.length)


def _continues(shape: Shape, before: Window, old: WindowFit, after: Window, new: WindowFit) -> bool:
    slip_s = abs(_slip(shape, before, old, after, new)) * new.quarter_s
    return slip_s <= 0.8 * shape.own_s(new.quarter_s)


def _edge(shape: Shape, strokes: Strokes, windows: list[Window], chosen: list[WindowFit]) -> int:
    """Return the stroke with which a new count begins, between two windows.

    Of those that do as well but for one stroke, it is the one after the longest silence.
    """
    first, last = windows[0].first, windows[1].last
    part = strokes.between(first, last)
    near = [
        np.abs(tempo_search.nearest(shape, part, one.phase_s, one.quarter_s)[1])
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
    chosen: list[WindowFit],
    limits: tuple[int, int],
) -> Section:
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
        number, offset = tempo_search.nearest(
            shape,
            tempo_search.Strokes(part.time_s[those], part.voice[those]),
            one.phase_s,
            one.quarter_s,
        )
        agree = np.abs(offset) <= shape.own_s(one.quarter_s)
        beats[those[agree]] = _beats(shape, number[agree]) + turns * shape.length
    known = ~np.isnan(beats)
    return Section(part.time_s[known], beats[known])


def _beats(shape: Shape, number: Ints) -> Floats:
    """Return numbered notes in quarters from the first pass on."""
    turn, note = np.divmod(number, len(shape.beat))
    found: Floats = shape.beat[note] + turn * shape.length
    return found


LEAST_STROKES, LEAST_PLAYED = 24, 0.6
"""A stretch counts with so many strokes, and so large a share of the notes it runs over."""

TIGHT_SHARE = 0.5
"""Strokes that agree by chance are anywhere within reach: they vary by 0.58 of that."""

SWING_STROKES = 9
"""Strokes whose median shows where the player is against a steady tempo."""


@dataclass(frozen=True)
class CountBreak:
    """Where a count is interrupted and where it continues: seconds, quarters of the pattern."""

    last_s: float
    next_s: float
    last_beat: float
    next_beat: float


def worth_laying(shape: Shape, found: list[Section], quarter_s: float) -> list[Section]:
    """Return the stretches that hold enough of the pattern, and tightly; noodling does neither."""
    return [one for one in found if _holds_the_pattern(shape, one, quarter_s)]


def _holds_the_pattern(shape: Shape, one: Section, quarter_s: float) -> bool:
    if len(one.beats) < LEAST_STROKES:
        return False
    span = float(one.beats[-1] - one.beats[0]) / shape.length
    lag = one.time_s - one.beats * quarter_s
    loose_s = float(np.std(np.diff(lag))) / math.sqrt(2)
    enough = len(one.beats) >= LEAST_PLAYED * span * len(shape.beat)
    return enough and loose_s <= TIGHT_SHARE * shape.own_s(quarter_s)


def tempo_swing(shape: Shape, one: Section, quarter_s: float) -> float:
    """Return how far, in seconds, a stretch runs to and fro against a steady tempo.

    Where strokes agree by chance only, as when somebody noodles before the start, there is none.
    """
    lag = one.time_s - one.beats * quarter_s
    if len(lag) < SWING_STROKES:
        return 0.0
    runs = np.lib.stride_tricks.sliding_window_view(lag, SWING_STROKES)
    loose_s = np.std(np.diff(runs, axis=1), axis=1) / math.sqrt(2)
    medians = np.median(runs, axis=1)[loose_s <= TIGHT_SHARE * shape.own_s(quarter_s)]
    return float(np.ptp(medians)) if len(medians) else 0.0


def running_swing(offset_s: Floats) -> float:
    """Return how far the median of so many strokes in a row runs to and fro, in seconds."""
    if len(offset_s) < SWING_STROKES:
        return 0.0
    runs = np.lib.stride_tricks.sliding_window_view(offset_s, SWING_STROKES)
    return float(np.ptp(np.median(runs, axis=1)))


def count_breaks(found: list[Section]) -> list[CountBreak]:
    """Return the breaks between stretches."""
    return [
        CountBreak(float(a.time_s[-1]), float(b.time_s[0]), float(a.beats[-1]), float(b.beats[0]))
        for a, b in pairwise(found)
    ]
