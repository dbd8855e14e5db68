"""Burst and endurance: the ceiling as a function of how long a tempo is held.

Every rung has a tempo, a length in strokes, and was clean or not. The chance to be clean falls with
tempo along a logistic curve (`trainer.measure.ceiling`), whose middle falls by the same share with
every doubling of the length: ceiling(n) = c * 2 ** (-k * log2(n / 64)), c the ceiling of 64
strokes. c, k and the slope are laid on a grid, nothing is assumed about c, k is anything from 5%
gained to 20% lost, and the slope is as in `trainer.measure.ceiling`. Figures are the middle of what
is then likely (median), with the 90% interval between the 5% and the 95% point.

- `lost`: percent of tempo lost with every doubling; plus is lost;
- `at(n)`: the ceiling of n strokes, in BPM: 32 are a burst, 512 endurance.

Withheld with fewer than `FEWEST_RUNGS` rungs, without both clean ones and others, and where the
longest rung is less than `LEAST_RANGE` times as long as the shortest. A ladder by the rule `longer`
makes rungs of many lengths at one tempo. Form and drift from day to day are not part of this: rungs
of a few weeks are taken as one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.ceiling import SLOPE_CENTRE, SLOPE_FACTOR
from trainer.measure.figure import Figure, withheld

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.practice.arrays import Floats

USUAL_STROKES = 64
FEWEST_RUNGS, LEAST_RANGE = 12, 4.0
TAIL = 0.05

_LOSSES = np.linspace(-0.05, 0.20, 51)
_SLOPES = np.exp(np.linspace(math.log(0.01), math.log(0.2), 7))
_PRIOR = np.exp(-0.5 * (np.log(_SLOPES / SLOPE_CENTRE) / math.log(SLOPE_FACTOR)) ** 2)


@dataclass(frozen=True, slots=True)
class LongRung:
    """One rung: its tempo in BPM, how many strokes it held, and whether it was clean."""

    tempo: float
    strokes: int
    clean: bool


@dataclass(frozen=True, slots=True)
class Endurance:
    """What length costs: `lost` per doubling, and the ceilings of some lengths in strokes."""

    lost: Figure
    at: dict[int, Figure]


def endurance(rungs: Sequence[LongRung], lengths: Sequence[int] = (32, 128, 512)) -> Endurance:
    """Measure what length costs, from the rungs of one pattern."""
    known = [one for one in rungs if one.strokes > 0]
    why = _lacking(known)
    if why:
        none = withheld("%", len(known), why)
        return Endurance(none, {n: withheld("BPM", len(known), why) for n in lengths})
    log_tempos = np.linspace(
        math.log(min(one.tempo for one in known) / 1.6),
        math.log(max(one.tempo for one in known) * 1.6),
        161,
    )
    density = _density(known, log_tempos)
    by_tempo = density.sum(axis=2)
    lost = _between(100 * _LOSSES, by_tempo.sum(axis=0), "%", len(known))
    tempos = {}
    for n in lengths:
        moved = log_tempos[:, None] - math.log(2.0) * _LOSSES[None, :] * _doublings(n)
        order = np.argsort(moved, axis=None, kind="stable")
        likely = by_tempo.reshape(-1)[order]
        tempos[n] = _between(np.exp(moved.reshape(-1)[order]), likely, "BPM", len(known))
    return Endurance(lost, tempos)


def _lacking(rungs: Sequence[LongRung]) -> str:
    if len(rungs) < FEWEST_RUNGS:
        return f"needs {FEWEST_RUNGS} rungs, has {len(rungs)}"
    if len({one.clean for one in rungs}) < 2:
        return "needs clean rungs and others"
    lengths = [one.strokes for one in rungs]
    if max(lengths) < LEAST_RANGE * min(lengths):
        return f"needs rungs {LEAST_RANGE:g} times as long as others"
    return ""


def _doublings(strokes: float) -> float:
    return math.log2(strokes / USUAL_STROKES)


def _density(rungs: Sequence[LongRung], log_tempos: Floats) -> Floats:
    """How likely each ceiling, loss and slope (the three axes) is; the sum is one."""
    log_density = np.log(_PRIOR)[None, None, :] + np.zeros((len(log_tempos), len(_LOSSES), 1))
    for one in rungs:
        middle = np.exp(
            log_tempos[:, None] - math.log(2.0) * _LOSSES[None, :] * _doublings(one.strokes)
        )
        away = (one.tempo / middle - 1)[:, :, None] / _SLOPES[None, None, :]
        log_density = log_density - np.logaddexp(0.0, away if one.clean else -away)
    density: Floats = np.exp(log_density - log_density.max())
    density /= density.sum()
    return density


def _between(values: Floats, likely: Floats, unit: str, count: int) -> Figure:
    """The median of values in rising order, and the points between which they are likely."""
    total = np.cumsum(likely) / likely.sum()
    low, middle, high = (float(np.interp(point, total, values)) for point in (TAIL, 0.5, 1 - TAIL))
    return Figure(middle, unit, count, low, high)
