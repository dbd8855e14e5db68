"""Phase correction: timekeeper, hand, and the share of an offset taken back, with the click on.

The model of Vorberg and Schulze (2002): the offsets A of strokes on successive clicks follow
A_(n+1) = (1 - a) A_n + T_n + M_(n+1) - M_n, where a is the share of an offset that the player takes
back at the next stroke, T the timekeeper's error and M the hand's delay. It is stable for a between
0 and 2. The three cannot all be measured without a constraint; the accepted one is that the hand
varies no more than the timekeeper (Jacoby and others 2015).

Estimation: the bounded generalised least squares of Jacoby, Tishby and others (2015). The change of
offset is regressed on the offset; the residual T_n + M_(n+1) - M_n has covariance K11 and, one
lag on, K12; weights come from that band matrix, K12 is held between -K11 / 3 and 0, and all
is repeated until it settles. a = -slope, hand variance -K12, timekeeper variance K11 + 2 K12. Such
a band matrix has sine waves as eigenvectors, so each run is turned into them once.

Limits: fewer than `FEWEST_STROKES` give no figure: with 100 strokes a true 0.5 is estimated as 0.54
on average, with a standard deviation of 0.16. Where K12 ends on a bound (half of all fits to 100
strokes of the model itself) the strokes cannot separate hand from timekeeper, or the model does not
fit: both deviations then have no figure and say so. Intervals (95%) are parametric bootstrap:
`BOOTSTRAP_DRAWS` runs of the fitted model, seed fixed. Strokes need to fall on clicks, beat after
beat: everything between two clicks counts as the timekeeper's. Of more than `MOST_STROKES` strokes,
pieces are taken evenly through the take: more would cost seconds and change nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import SURE, Figure, withheld
from trainer.practice.arrays import normal_draws, on_grid

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.practice.arrays import Bools, Floats

FEWEST_STROKES = 100
SHORTEST_RUN = 8
LONGEST_PIECE = 128
MOST_STROKES = 1000
FIT_ROUNDS = 20
BOOTSTRAP_DRAWS = 200
BOOTSTRAP_SEED = 2002

OFFSET_BITS, SINE_BITS = 20, 16
"""Bits after the point of offsets (a nanosecond) and of each of the two parts of a sine: offsets
below 1024 ms (10 bits), 128 in a row (7 bits), make 53, so that `@` is exact on every processor."""


@dataclass(frozen=True, slots=True)
class PhaseCorrection:
    """The share of an offset taken back by the next click, and the two deviations in ms."""

    correction: Figure
    timekeeper: Figure
    hand: Figure


@dataclass(frozen=True, slots=True)
class PhaseFit:
    """A fit: a, the two variances, and whether it ended on a bound. Arrays: one entry a draw."""

    correction: Floats
    timekeeper: Floats
    hand: Floats
    bound: Bools


def phase_correction(runs: Sequence[Floats]) -> PhaseCorrection:
    """Fit the model to runs of offsets in ms on successive clicks, each run unbroken."""
    pieces = _thinned_pieces(
        [piece for run in runs for piece in run_pieces(run, SHORTEST_RUN, LONGEST_PIECE)]
    )
    count = sum(map(len, pieces))
    if count < FEWEST_STROKES:
        return _no_correction(
            count, f"needs {FEWEST_STROKES} strokes on successive clicks, has {count}"
        )
    if max(float(np.std(piece)) for piece in pieces) < 1e-9:
        return _no_correction(count, "the offsets do not vary")
    found = fit_runs([piece[np.newaxis] for piece in pieces])
    correction = float(found.correction[0])
    if not 0 < correction < 2:
        return _no_correction(
            count,
            f"the model does not fit: correction {correction:.2f} is outside 0 to 2",
        )
    if found.bound[0]:
        drawn = _bootstrap_fits(
            correction, *_positive_variances(found), [len(piece) for piece in pieces]
        )
        why = "the model is at its bound: the limb's share could not be measured"
        return PhaseCorrection(
            bootstrap_figure(correction, drawn.correction, "", count),
            withheld("ms", count, why),
            withheld("ms", count, why),
        )
    timekeeper, hand = _positive_variances(found)
    drawn = _bootstrap_fits(correction, timekeeper, hand, [len(piece) for piece in pieces])
    return PhaseCorrection(
        bootstrap_figure(correction, drawn.correction, "", count),
        bootstrap_figure(math.sqrt(timekeeper), np.sqrt(drawn.timekeeper), "ms", count),
        bootstrap_figure(math.sqrt(hand), np.sqrt(drawn.hand), "ms", count),
    )


def fit_runs(runs: Sequence[Floats]) -> PhaseFit:
    """Fit the model to runs shaped (draws, strokes); all draws are fitted side by side."""
    mean = sum(np.sum(run, axis=1) for run in runs) / sum(run.shape[1] for run in runs)
    waves, moments = [], np.zeros((6, len(mean)))
    for run in runs:
        before = on_grid(run[:, :-1] - mean[:, np.newaxis], OFFSET_BITS)
        change = on_grid(np.diff(run, axis=1), OFFSET_BITS)
        moments += _moments(before, change)
        high, low, cosines = _sines(before.shape[1])
        waves.append((before @ high + before @ low, change @ high + change @ low, cosines))
    pairs = sum(run.shape[1] - 1 for run in runs)
    k11, k12 = np.ones(len(mean)), np.zeros(len(mean))
    bound = np.zeros(len(mean), dtype=np.bool_)
    slope = np.zeros(len(mean))
    for _ in range(FIT_ROUNDS):
        slope = _slope(waves, k11, k12)
        k11, free = _residual(moments, slope, pairs)
        k12 = np.clip(free, -k11 / 3, 0)
        bound = k12 != free
    return PhaseFit(-slope, k11 + 2 * k12, -k12, bound)


def _moments(x: Floats, y: Floats) -> Floats:
    """Sums of products at lag 0 (xx, xy, yy) and at lag 1 (xx, xy both ways, yy).

    x and y are shaped (draws, strokes), the sums (6, draws).
    """
    return np.array(
        [
            np.sum(x * x, axis=1),
            np.sum(x * y, axis=1),
            np.sum(y * y, axis=1),
            np.sum(x[:, 1:] * x[:, :-1], axis=1),
            np.sum(x[:, 1:] * y[:, :-1] + y[:, 1:] * x[:, :-1], axis=1),
            np.sum(y[:, 1:] * y[:, :-1], axis=1),
        ]
    )


@cache
def _sines(length: int) -> tuple[Floats, Floats, Floats]:
    """Eigenvectors of a symmetric band matrix of ones beside the diagonal, and its eigenvalues.

    The eigenvectors are the sum of two matrices, shaped (length, length): high and low digits.
    """
    at = np.arange(1, length + 1)
    sines = np.sqrt(2 / (length + 1)) * np.sin(np.pi * np.outer(at, at) / (length + 1))
    cosines = 2 * np.cos(np.pi * at / (length + 1))
    high = on_grid(sines, SINE_BITS)
    return high, on_grid(sines - high, 2 * SINE_BITS), on_grid(cosines, 2 * SINE_BITS)


def _slope(waves: list[tuple[Floats, Floats, Floats]], k11: Floats, k12: Floats) -> Floats:
    """Weighted least squares of change on offset for the band matrix K; K's entries by draw."""
    above, below = np.zeros(len(k11)), np.zeros(len(k11))
    for x, y, cosines in waves:
        weight = 1 / (k11[:, np.newaxis] + k12[:, np.newaxis] * cosines)
        above += np.sum(weight * x * y, axis=1)
        below += np.sum(weight * x * x, axis=1)
    slope: Floats = above / below
    return slope


def _residual(moments: Floats, slope: Floats, pairs: int) -> tuple[Floats, Floats]:
    """Variance and lag-1 covariance of what the slope leaves over."""
    xx, xy, yy, xx1, xy1, yy1 = moments
    k11 = (yy - 2 * slope * xy + slope**2 * xx) / pairs
    k12 = (yy1 - slope * xy1 + slope**2 * xx1) / pairs
    return k11, k12


def run_pieces(run: Floats, shortest: int, longest: int) -> list[Floats]:
    """Cut a long run into equal pieces, so that its matrices stay small; drop what is too short."""
    pieces = np.array_split(run, math.ceil(len(run) / longest)) if len(run) else []
    return [piece for piece in pieces if len(piece) >= shortest]


def _thinned_pieces(pieces: list[Floats]) -> list[Floats]:
    """Keep every second, third, ... piece, so that no more than about MOST strokes are left."""
    return pieces[:: max(1, math.ceil(sum(map(len, pieces)) / MOST_STROKES))]


def _bootstrap_fits(
    correction: float, timekeeper: float, hand: float, lengths: Sequence[int]
) -> PhaseFit:
    """Fits to runs that the fitted model made."""
    rng = np.random.default_rng(BOOTSTRAP_SEED)
    return fit_runs(
        [
            _simulated_offsets(rng, BOOTSTRAP_DRAWS, length, correction, timekeeper, hand)
            for length in lengths
        ]
    )


def _simulated_offsets(
    rng: np.random.Generator, draws: int, length: int, a: float, timekeeper: float, hand: float
) -> Floats:
    """Offsets of the model, shaped (draws, length), after a run-in that forgets the start."""
    run_in = 50
    error = normal_draws(rng, math.sqrt(timekeeper), (draws, run_in + length))
    delay = normal_draws(rng, math.sqrt(hand), (draws, run_in + length + 1))
    steps = error + np.diff(delay, axis=1)
    made = np.zeros((draws, run_in + length))
    for at in range(1, run_in + length):
        made[:, at] = (1 - a) * made[:, at - 1] + steps[:, at]
    return made[:, run_in:]


def _positive_variances(found: PhaseFit) -> tuple[float, float]:
    return abs(float(found.timekeeper[0])), abs(float(found.hand[0]))


def bootstrap_figure(value: float, drawn: Floats, unit: str, count: int) -> Figure:
    """Return a figure with the interval of what a fitted model gave over and over."""
    low, high = np.quantile(drawn, [(1 - SURE) / 2, (1 + SURE) / 2])
    return Figure(value, unit, count, float(low), float(high))


def _no_correction(count: int, why: str) -> PhaseCorrection:
    return PhaseCorrection(
        withheld("", count, why), withheld("ms", count, why), withheld("ms", count, why)
    )
