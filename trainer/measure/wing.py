"""Timekeeper and hand without a click: the two-level model of Wing and Kristofferson (1973).

Each interval between even strokes of one limb is I_j = C_j + M_j - M_(j-1): a timekeeper's interval
C plus the difference of two delays M of the hand, all independent. So neighbouring intervals are
correlated by -Vm / (Vc + 2 Vm), which lies between -0.5 and 0; Vc and Vm are the variances of C and
M. It holds while nothing corrects the strokes, that is only while the click is silent: with a
click on, see `trainer.measure.phase`.

Estimation: from the autocovariances g0 and g1 of the intervals (1/n, lags 0 and 1), Vm = -g1 and
Vc = g0 + 2 g1. In short runs both are biased (Vm up, Vc down), more so when a straight line is
taken out, and a drift left in does worse harm. So a line is taken out of each run (of each piece
of `LONGEST` in a long one) and the bias is undone exactly: the expected g0 and g1 of detrended runs
of these lengths are linear in Vc and Vm, and that system is solved. Variances are in ms squared,
results are standard deviations in ms.

Edges: runs of fewer than `RUN` intervals are left out, fewer than `FEWEST` intervals in all give no
figure. A correlation outside -0.5 to 0 (which is the same as a negative variance) means that the
model does not fit: the figures are then withheld with that reason, never clipped. Intervals (95 %)
are parametric bootstrap: the fitted model made `DRAWS` times over with the same run lengths, seed
fixed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import SURE, Figure, too_few, withheld

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.frame import Floats

RUN = 7
LONGEST = 64
FEWEST = 32
NOTHING = 1e-12
DRAWS = 400
SEED = 1973


@dataclass(frozen=True, slots=True)
class TwoLevel:
    """Standard deviations of timekeeper and hand in ms, and the correlation of neighbours."""

    timekeeper: Figure
    hand: Figure
    neighbours: Figure


def two_level(runs: Sequence[Floats]) -> TwoLevel:
    """Fit the model to runs of intervals in ms, each run unbroken."""
    long_enough = [piece for run in runs for piece in _pieces(run)]
    count = sum(map(len, long_enough))
    if count < FEWEST:
        return TwoLevel(
            timekeeper=too_few("ms", count, FEWEST, "even intervals"),
            hand=too_few("ms", count, FEWEST, "even intervals"),
            neighbours=too_few("", count, FEWEST, "even intervals"),
        )
    lengths = [len(run) for run in long_enough]
    g0, g1 = autocovariances([_detrended(run) for run in long_enough])
    if g0 < NOTHING:
        why = "the intervals do not vary at all"
        return TwoLevel(*(withheld(unit, count, why) for unit in ("ms", "ms", "")))
    timekeeper, hand = unbiased(g0, g1, lengths)
    neighbours = -hand / (timekeeper + 2 * hand)
    fault = misfit(neighbours)
    if fault:
        none = withheld("ms", count, fault)
        return TwoLevel(none, none, Figure(neighbours, "", count))
    drawn = _draws(timekeeper, hand, lengths)
    return TwoLevel(
        timekeeper=_figure(timekeeper, drawn[0], count),
        hand=_figure(hand, drawn[1], count),
        neighbours=Figure(neighbours, "", count),
    )


def autocovariances(runs: Sequence[Floats]) -> tuple[float, float]:
    """Return g0 and g1 (1/n) of centred runs, pooled over the runs."""
    count = sum(map(len, runs))
    g0 = sum(float(run @ run) for run in runs) / count
    g1 = sum(float(run[1:] @ run[:-1]) for run in runs) / count
    return g0, g1


def simple(g0: float, g1: float) -> tuple[float, float]:
    """Return the variances of timekeeper and hand without any correction of bias."""
    return g0 + 2 * g1, -g1


def unbiased(g0: float, g1: float, lengths: Sequence[int]) -> tuple[float, float]:
    """Return the variances of timekeeper and hand with the bias of detrended runs undone."""
    count = sum(lengths)
    system = sum(length * expected(length) for length in lengths) / count
    timekeeper, hand = np.linalg.solve(system, [g0, g1])
    return float(timekeeper), float(hand)


@cache
def expected(length: int, degree: int = 1) -> Floats:
    """Return what g0 and g1 (rows) of a run average to for a unit of Vc and of Vm (columns).

    `degree` is that of the polynomial taken out of the run: 0 the mean, 1 a straight line.
    """
    base, _ = np.linalg.qr(np.vander(np.linspace(-1, 1, length), degree + 1))
    keep = np.eye(length) - base @ base.T
    step = np.eye(length, k=1) + np.eye(length, k=-1)
    hand = 2 * np.eye(length) - step
    lags = (np.eye(length), step / 2)
    rows = [
        [float(np.sum((keep @ lag @ keep) * part)) / length for part in (np.eye(length), hand)]
        for lag in lags
    ]
    return np.array(rows)


def _pieces(run: Floats) -> list[Floats]:
    """Cut a long run into equal pieces; drop what is too short."""
    pieces = np.array_split(run, math.ceil(len(run) / LONGEST)) if len(run) else []
    return [piece for piece in pieces if len(piece) >= RUN]


def _detrended(run: Floats) -> Floats:
    at = np.arange(len(run)) - (len(run) - 1) / 2
    centred = run - np.mean(run)
    flat: Floats = centred - at * float(at @ centred) / float(at @ at)
    return flat


def misfit(neighbours: float) -> str:
    """Return why a correlation of neighbouring intervals rules the model out, or nothing."""
    if -0.5 <= neighbours <= 0:
        return ""
    return (
        f"the model does not fit: neighbouring intervals correlate by {neighbours:.2f}, "
        "which is outside -0.5 to 0"
    )


def _draws(timekeeper: float, hand: float, lengths: Sequence[int]) -> Floats:
    """Variances (row 0 timekeeper, row 1 hand) of the fitted model made over and over."""
    rng = np.random.default_rng(SEED)
    count = sum(lengths)
    sums = np.zeros((2, DRAWS))
    for length in lengths:
        delay = rng.normal(0, math.sqrt(hand), (DRAWS, length + 1))
        runs: Floats = rng.normal(0, math.sqrt(timekeeper), (DRAWS, length))
        runs += np.diff(delay, axis=1)
        base, _ = np.linalg.qr(np.vander(np.linspace(-1, 1, length), 2))
        flat = runs - runs @ base @ base.T
        sums[0] += np.sum(flat * flat, axis=1)
        sums[1] += np.sum(flat[:, 1:] * flat[:, :-1], axis=1)
    system = sum(length * expected(length) for length in lengths) / count
    return np.asarray(np.linalg.solve(system, sums / count), dtype=np.float64)


def _figure(variance: float, drawn: Floats, count: int) -> Figure:
    low, high = np.quantile(np.sqrt(np.maximum(drawn, 0)), [(1 - SURE) / 2, (1 + SURE) / 2])
    return Figure(math.sqrt(variance), "ms", count, float(low), float(high))
