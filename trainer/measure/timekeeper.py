"""Timekeeper or hand: where each limb's spread comes from, and the two-level model behind it.

Two models, each where it applies, limb by limb:

- `silent`: strokes in stretches where the click was silent, an unbroken even run of one limb
  (the two-level model below);
- `click`: strokes on the written beats while the click sounds, one limb, beat after beat
  (`trainer.measure.phase_correction`).

A limb that plays has an entry in both; figures that could not be measured are None and say why.
Stretches are (start, end) in seconds on the session's clock, the end left out. A run breaks at a
missed stroke, at a change of note value or tempo, and where the strokes are unevenly spaced.

The two-level model (Wing and Kristofferson 1973): each interval between even strokes of one limb
is I_j = C_j + M_j - M_(j-1): a timekeeper's interval C plus the difference of two delays M of the
hand, all independent. So neighbouring intervals are correlated by -Vm / (Vc + 2 Vm), which is
between -0.5 and 0; Vc and Vm are the variances of C and M. It holds while nothing corrects the
strokes, that is only while the click is silent.

Estimation: from the autocovariances g0 and g1 of the intervals (1/n, lags 0 and 1), Vm = -g1 and
Vc = g0 + 2 g1. In short runs both are biased (Vm up, Vc down), more so when a straight line is
taken out, and a drift left in does worse harm. So a line is taken out of each run (of each piece
of `LONGEST_PIECE` in a long one) and the bias is undone exactly: the expected g0 and g1 of
detrended runs of these lengths are linear in Vc and Vm, and that system is solved. Variances are in
ms squared, results are standard deviations in ms.

Limits: runs of fewer than `SHORTEST_RUN` intervals are left out; fewer than `FEWEST_INTERVALS` in
all give no figure. A correlation outside -0.5 to 0 (the same as a negative variance) means that the
model does not fit: there is then no figure, with that reason, and nothing is clipped. Intervals
(95%) are parametric bootstrap: the fitted model made `BOOTSTRAP_DRAWS` times over with the same run
lengths, seed fixed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, too_few, withheld
from trainer.measure.phase_correction import (
    PhaseCorrection,
    bootstrap_figure,
    phase_correction,
    run_pieces,
)
from trainer.measure.stroke import EVEN_WITHIN, one_value_apart
from trainer.measure.take_arrays import indexes_by_code
from trainer.pattern.model import LIMB_UNKNOWN
from trainer.practice.arrays import normal_draws, product

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools, Floats, Ints


SHORTEST_RUN = 7
LONGEST_PIECE = 64
FEWEST_INTERVALS = 32
NO_VARIANCE = 1e-12
BOOTSTRAP_DRAWS = 400
BOOTSTRAP_SEED = 1973


@dataclass(frozen=True, slots=True)
class TwoLevel:
    """Standard deviations of timekeeper and hand in ms, and the correlation of neighbours."""

    timekeeper: Figure
    hand: Figure
    neighbours: Figure


def two_level(runs: Sequence[Floats]) -> TwoLevel:
    """Fit the model to runs of intervals in ms, each run unbroken."""
    long_enough = [piece for run in runs for piece in run_pieces(run, SHORTEST_RUN, LONGEST_PIECE)]
    count = sum(map(len, long_enough))
    if count < FEWEST_INTERVALS:
        return TwoLevel(
            timekeeper=too_few("ms", count, FEWEST_INTERVALS, "even intervals"),
            hand=too_few("ms", count, FEWEST_INTERVALS, "even intervals"),
            neighbours=too_few("", count, FEWEST_INTERVALS, "even intervals"),
        )
    lengths = [len(run) for run in long_enough]
    g0, g1 = autocovariances([_detrended(run) for run in long_enough])
    if g0 < NO_VARIANCE:
        why = "the intervals do not vary"
        return TwoLevel(*(withheld(unit, count, why) for unit in ("ms", "ms", "")))
    timekeeper, hand = unbiased_variances(g0, g1, lengths)
    neighbours = -hand / (timekeeper + 2 * hand)
    fault = misfit_reason(neighbours)
    if fault:
        none = withheld("ms", count, fault)
        return TwoLevel(none, none, Figure(neighbours, "", count))
    drawn = np.sqrt(np.maximum(_bootstrap_variances(timekeeper, hand, lengths), 0))
    return TwoLevel(
        timekeeper=bootstrap_figure(math.sqrt(timekeeper), drawn[0], "ms", count),
        hand=bootstrap_figure(math.sqrt(hand), drawn[1], "ms", count),
        neighbours=Figure(neighbours, "", count),
    )


def autocovariances(runs: Sequence[Floats]) -> tuple[float, float]:
    """Return g0 and g1 (1/n) of centred runs, pooled over the runs."""
    count = sum(map(len, runs))
    g0 = math.fsum(product(run, run) for run in runs) / count
    g1 = math.fsum(product(run[1:], run[:-1]) for run in runs) / count
    return g0, g1


def unbiased_variances(g0: float, g1: float, lengths: Sequence[int]) -> tuple[float, float]:
    """Return the variances of timekeeper and hand with the bias of detrended runs undone."""
    timekeeper, hand = _without_bias(np.array([g0, g1]), lengths)
    return float(timekeeper), float(hand)


def _without_bias(measured: Floats, lengths: Sequence[int]) -> Floats:
    """Both variances from g0 and g1, each shaped (2,) or (2, draws), by Cramer's rule."""
    (a, b), (c, d) = np.sum(
        [length / sum(lengths) * expected_autocovariances(length) for length in lengths], axis=0
    )
    g0, g1 = measured
    found: Floats = np.array([d * g0 - b * g1, a * g1 - c * g0]) / (a * d - b * c)
    return found


@cache
def expected_autocovariances(length: int, degree: int = 1) -> Floats:
    """Return what g0 and g1 (rows) of a run average to for a unit of Vc and of Vm (columns).

    Shaped (2, 2). `degree` is that of the polynomial taken out of the run: 0 the mean, 1 a line.
    """
    keep = np.eye(length)
    for one in _line_base(length)[: degree + 1]:
        keep -= np.outer(one, one)
    step = np.eye(length, k=1) + np.eye(length, k=-1)
    hand = 2 * np.eye(length) - step
    lags = (np.eye(length), step / 2)
    rows = [
        [
            product(_multiplied(_multiplied(keep, lag), keep), part) / length
            for part in (np.eye(length), hand)
        ]
        for lag in lags
    ]
    return np.array(rows)


def _multiplied(one: Floats, other: Floats) -> Floats:
    """The product of two square matrices."""
    found: Floats = np.sum(one[:, :, np.newaxis] * other[np.newaxis], axis=1)
    return found


def _line_base(length: int) -> tuple[Floats, Floats]:
    """Two series of length one and at right angles, whose sums are all straight lines."""
    at = np.arange(length, dtype=np.float64) - (length - 1) / 2
    return np.full(length, 1 / math.sqrt(length)), at / math.sqrt(max(1.0, product(at, at)))


def _detrended(run: Floats) -> Floats:
    flat: Floats = run - sum(one * product(run, one) for one in _line_base(len(run)))
    return flat


def misfit_reason(neighbours: float) -> str:
    """Return why a correlation of neighbouring intervals rules the model out, or nothing."""
    if -0.5 <= neighbours <= 0:
        return ""
    return (
        f"the model does not fit: neighbouring intervals correlate by {neighbours:.2f}, "
        "outside -0.5 to 0"
    )


def _bootstrap_variances(timekeeper: float, hand: float, lengths: Sequence[int]) -> Floats:
    """Variances of the fitted model made over and over, shaped (timekeeper and hand, draws)."""
    rng = np.random.default_rng(BOOTSTRAP_SEED)
    sums = np.zeros((2, BOOTSTRAP_DRAWS))
    for length in lengths:
        delay = normal_draws(rng, math.sqrt(hand), (BOOTSTRAP_DRAWS, length + 1))
        runs = normal_draws(rng, math.sqrt(timekeeper), (BOOTSTRAP_DRAWS, length))
        runs += np.diff(delay, axis=1)
        flat = runs - sum(
            np.sum(runs * one, axis=1, keepdims=True) * one for one in _line_base(length)
        )
        sums[0] += np.sum(flat * flat, axis=1)
        sums[1] += np.sum(flat[:, 1:] * flat[:, :-1], axis=1)
    return _without_bias(sums / sum(lengths), lengths)


@dataclass(frozen=True, slots=True)
class SpreadSources:
    """Both models by limb."""

    silent: dict[str, TwoLevel]
    click: dict[str, PhaseCorrection]


def sources(take: TakeArrays, silent: Sequence[tuple[float, float]] = ()) -> SpreadSources:
    """Split the spread of each limb into timekeeper and hand, where that can be measured."""
    without = _in_stretches(take.time_s, silent)
    found = SpreadSources({}, {})
    for code, strokes in indexes_by_code(take.limb, take.main):
        limb = take.name("limb", code)
        if limb == LIMB_UNKNOWN:
            continue
        quiet = strokes[without[strokes]]
        found.silent[limb] = _silent_model(take, quiet) if len(silent) else _always_clicked()
        clicked = strokes[~without[strokes] & take.on_beat[strokes]]
        runs = [run for run in _even_runs(take, clicked) if _beat_after_beat(take, run)]
        found.click[limb] = phase_correction([take.offset_ms[run] for run in runs])
    return found


def _silent_model(take: TakeArrays, strokes: Ints) -> TwoLevel:
    return two_level(
        [
            np.diff(take.time_s[run] * 1000 + take.offset_ms[run])
            for run in _even_runs(take, strokes)
        ]
    )


def _always_clicked() -> TwoLevel:
    why = "the click was never silent"
    return TwoLevel(withheld("ms", 0, why), withheld("ms", 0, why), withheld("", 0, why))


def _in_stretches(time_s: Floats, stretches: Sequence[tuple[float, float]]) -> Bools:
    inside = np.zeros(len(time_s), dtype=np.bool_)
    for start, end in stretches:
        inside |= (time_s >= start) & (time_s < end)
    return inside


def _beat_after_beat(take: TakeArrays, run: Ints) -> bool:
    beat = float(take.beat_s[run[0]])
    return bool(one_value_apart(take.time_s[run[1]] - take.time_s[run[0]], beat))


def _even_runs(take: TakeArrays, strokes: Ints) -> list[Ints]:
    """Cut the strokes of a limb into unbroken, evenly written runs of played strokes.

    `strokes` are all that were written, so that a missed one leaves a hole and not a longer step.
    """
    if not len(strokes):
        return []
    apart = np.diff(take.time_s[strokes])
    whole = take.played[strokes]
    joined = whole[1:] & whole[:-1] & (apart > 0)
    joined &= take.value[strokes[1:]] == take.value[strokes[:-1]]
    joined &= take.tempo[strokes[1:]] == take.tempo[strokes[:-1]]
    starts = np.flatnonzero(~joined) + 1
    runs = []
    for run in np.split(np.arange(len(strokes)), starts):
        steps = apart[run[:-1]]
        turns = np.flatnonzero(np.abs(np.diff(steps)) > EVEN_WITHIN * steps[:-1]) + 1
        runs += [strokes[part] for part in np.split(run, turns + 1)]
    return [run for run in runs if len(run) > 2]
