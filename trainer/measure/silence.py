"""Silent bars: how far ahead or behind the player is when the click comes back.

Every figure is relative to the player's own place before: the mean offset of the bar
before a silence is taken off, so latency and feel do not count. Milliseconds;
minus is ahead of the click, plus is behind.

- `bars`: for each silent bar in its order, the mean offset of its strokes.
- `back`: the same at each return, from the strokes of the last silent beat and the one on the first
  click; its mean over all returns. A steady minus rushes, a steady plus drags.
- `size`: mean distance at the return, whichever way.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, mean, withheld
from trainer.practice.arrays import average

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools

ON_CLICK_S = 0.001
"""Strokes written this near to a click are on it."""


@dataclass(frozen=True, slots=True)
class SilentBar:
    """One silent bar: its pass and bar, from 0, and how far off the player was; None: no strokes.

    `last` is True where the click came back after it.
    """

    row: int
    bar: int
    ms: float | None
    last: bool


@dataclass(frozen=True, slots=True)
class Silence:
    """The silent bars of a take, and the figures of all returns."""

    back: Figure
    size: Figure
    bars: tuple[SilentBar, ...]


def silence(take: TakeArrays, silent: Sequence[tuple[float, float]]) -> Silence:
    """Measure the silent bars; `silent` are their stretches (start, end) on the session's clock."""
    if not silent:
        nothing = withheld("ms", 0, "no bar was silent")
        return Silence(nothing, nothing, ())
    bars: list[SilentBar] = []
    returns: list[float] = []
    for start_s, end_s in silent:
        usual = _usual(take, start_s)
        inside = (take.time_s >= start_s - ON_CLICK_S) & (take.time_s < end_s - ON_CLICK_S)
        found = _bars(take, inside, usual)
        bars += found
        last = take.played & (take.time_s <= end_s + ON_CLICK_S)
        last &= take.time_s >= end_s - _beat_s(take, inside) - ON_CLICK_S
        if usual is not None and np.any(last & inside):
            returns.append(average(take.offset_ms[last]) - usual)
    values = np.array(returns, dtype=np.float64)
    return Silence(mean(values, "ms"), mean(np.abs(values), "ms"), tuple(bars))


def _usual(take: TakeArrays, start_s: float) -> float | None:
    """Return the mean offset of the bar before a silence; None where nothing was played in it."""
    before = np.flatnonzero(take.played & (take.time_s < start_s - ON_CLICK_S))
    if not len(before):
        return None
    last = before[-1]
    bar = (take.row[before] == take.row[last]) & (take.bar[before] == take.bar[last])
    return average(take.offset_ms[before[bar]])


def _bars(take: TakeArrays, inside: Bools, usual: float | None) -> list[SilentBar]:
    """Return the bars of one silence in order."""
    places = np.stack([take.row[inside], take.bar[inside]], axis=1)
    each = np.unique(places, axis=0) if len(places) else places
    found = []
    for count, (row, bar) in enumerate(each.tolist(), 1):
        strokes = inside & take.played & (take.row == row) & (take.bar == bar)
        off = None
        if usual is not None and np.any(strokes):
            off = average(take.offset_ms[strokes]) - usual
        found.append(SilentBar(row, bar, off, last=count == len(each)))
    return found


def _beat_s(take: TakeArrays, inside: Bools) -> float:
    """Return the length of a beat where the click is silent."""
    return float(np.max(take.beat_s[inside])) if np.any(inside) else 0.0
