"""Forecast: when a tempo will be reached at the rate of the last weeks, and what a week off costs.

Each session has a ceiling of its own, from its own rungs (`trainer.measure.ceiling`); those with a
bound instead of a figure are left out. A line is laid through their logarithms by least squares,
each with the weight of its interval and of the form of a day. The figures:

- `gain`: the slope of that line, in percent of tempo a week, with a 90% interval (Student's t);
- `tempo_on`: the level on a day to come, in BPM, with a 90% interval. It widens as the line's own
  uncertainty does, and by the `DAILY_DRIFT` that a level moves anyway from day to day;
- `window`: from which day to which the level reaches a tempo: where the upper and the lower end of
  that interval do. An end further away than `FURTHEST_DAYS` is open;
- `week_off`: how much the ceiling changes over a gap of `LONG_GAP` days or more, less how much it
  changes between other sessions, in percent; minus is lost. 95% interval (Student's t). Both come
  from one fit to all changes by generalised least squares (Aitken 1936): two changes in a row share
  a session, whose error raises the one and lowers the other.

A forecast is withheld with fewer than `FEWEST_SESSIONS` sessions, or over fewer than `FEWEST_DAYS`
days. It says what happens if practice continues as it was: it knows of no plateau. All thresholds
are our own choice; tests/bench/bench_coach.py prints how often the intervals hold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.ceiling import FORM_SHARE, RungOutcome, TempoEstimate, ceiling
from trainer.measure.figure import Figure, too_few
from trainer.measure.threshold import t_quantile

if TYPE_CHECKING:
    from collections.abc import Sequence

FEWEST_SESSIONS, FEWEST_DAYS = 6, 14.0
FURTHEST_DAYS = 730
LONG_GAP, FEWEST_GAPS = 5.0, 4
DAILY_DRIFT = 0.004
"""How much a level moves anyway, as a share of it for the root of a day."""

SURE, WEEK_SURE = 0.90, 0.95
HALF_IN_SDS = 1.96
"""Standard deviations from the middle to the ends of a ceiling's interval."""


@dataclass(frozen=True, slots=True)
class DayCeiling:
    """The ceiling of one session alone: its day, its tempo's logarithm and that one's deviation."""

    day: float
    log_tempo: float
    sd: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """A line through the ceilings of sessions; days count from now, past ones are minus.

    `middle` is the weighted mean day, `height` the line's logarithm of tempo there, `slope` its
    rise a day; `error` and `slope_error` are their standard errors with `free` degrees of freedom.
    """

    sessions: int
    middle: float
    height: float
    slope: float
    error: float
    slope_error: float
    free: float

    @property
    def gain(self) -> Figure:
        """Percent of tempo a week, with a 90% interval."""
        ends = [
            100 * math.expm1(7 * (self.slope + sign * self._t * self.slope_error))
            for sign in (0, -1, 1)
        ]
        return Figure(ends[0], "%/week", self.sessions, ends[1], ends[2], free=self.free)

    @property
    def _t(self) -> float:
        return t_quantile(0.5 + SURE / 2, self.free)

    def tempo_on(self, day: float) -> TempoEstimate:
        """Return the level on a day, in BPM, with a 90% interval."""
        away = day - self.middle
        line = math.hypot(self.error, away * self.slope_error)
        half = self._t * math.hypot(line, DAILY_DRIFT * math.sqrt(max(0.0, day)))
        at = self.height + self.slope * away
        low, high = math.exp(at - half), math.exp(at + half)
        return TempoEstimate(math.exp(at), low, high, open_above=False, open_below=False)

    def window(self, tempo: float) -> tuple[int | None, int | None]:
        """Return the first day on which the level may be at a tempo, and on which it surely is.

        0 is today; None is later than `FURTHEST_DAYS`, or never.
        """
        days = range(FURTHEST_DAYS + 1)
        may = next((day for day in days if self.tempo_on(day).high >= tempo), None)
        surely = next((day for day in days if self.tempo_on(day).low >= tempo), None)
        return may, surely


def day_ceilings(sessions: Sequence[tuple[float, Sequence[RungOutcome]]]) -> list[DayCeiling]:
    """Return the own ceilings of sessions, given as day (minus is past) and rungs.

    Sessions whose rungs give a bound only are left out.
    """
    found = []
    for day, rungs in sessions:
        one = ceiling([RungOutcome(rung.tempo, rung.clean) for rung in rungs])
        if one and not (one.half.open_above or one.half.open_below):
            sd = math.log(one.half.high / one.half.low) / (2 * HALF_IN_SDS)
            found.append(DayCeiling(day, math.log(one.half.tempo), sd))
    return found


def forecast(days: Sequence[DayCeiling]) -> Forecast | str:
    """Return the line through some sessions' ceilings, or why there is none."""
    span = max((one.day for one in days), default=0.0) - min((one.day for one in days), default=0.0)
    if len(days) < FEWEST_SESSIONS:
        return f"needs {FEWEST_SESSIONS} ladders with a ceiling, has {len(days)}"
    if span < FEWEST_DAYS:
        return f"needs {FEWEST_DAYS:.0f} days of ladders, has {span:.0f}"
    weights = [1 / (one.sd * one.sd + FORM_SHARE * FORM_SHARE) for one in days]
    total = math.fsum(weights)
    middle = math.fsum(w * one.day for w, one in zip(weights, days, strict=True)) / total
    height = math.fsum(w * one.log_tempo for w, one in zip(weights, days, strict=True)) / total
    reach = math.fsum(w * (one.day - middle) ** 2 for w, one in zip(weights, days, strict=True))
    slope = math.fsum(
        w * (one.day - middle) * (one.log_tempo - height)
        for w, one in zip(weights, days, strict=True)
    )
    slope /= reach
    rest = math.fsum(
        w * (one.log_tempo - height - slope * (one.day - middle)) ** 2
        for w, one in zip(weights, days, strict=True)
    )
    free = len(days) - 2.0
    # Ceilings that scatter less than their own intervals do so by chance.
    scatter = math.sqrt(max(1.0, rest / free))
    error, slope_error = scatter / math.sqrt(total), scatter / math.sqrt(reach)
    return Forecast(len(days), middle, height, slope, error, slope_error, free)


def week_off(days: Sequence[DayCeiling]) -> Figure:
    """Return how much more the ceiling changes over a gap than between sessions close together."""
    gaps = np.diff([one.day for one in days])
    long = gaps >= LONG_GAP
    fewer = int(min(long.sum(), (~long).sum()))
    if fewer < FEWEST_GAPS:
        return too_few("%", fewer, FEWEST_GAPS, "gaps of each kind")
    changes = np.diff([one.log_tempo for one in days])
    noise = np.array([one.sd * one.sd + FORM_SHARE * FORM_SHARE for one in days])
    # A change ends with the noise that the next one begins with.
    alike = np.diag(noise[1:-1], 1)
    spread = np.diag(noise[:-1] + noise[1:] + DAILY_DRIFT**2 * gaps) - alike - alike.T
    kinds = np.stack([np.ones(len(gaps)), long], axis=1)
    weights = np.linalg.solve(spread, kinds)
    sure = np.linalg.inv(kinds.T @ weights)
    usual, cost = sure @ (weights.T @ changes)
    rest = changes - usual - cost * long
    free = len(changes) - 2.0
    scatter = float(rest @ np.linalg.solve(spread, rest)) / free
    half = t_quantile(0.5 + WEEK_SURE / 2, free) * math.sqrt(scatter * sure[1, 1])
    at, low, high = (100 * math.expm1(cost + sign * half) for sign in (0, -1, 1))
    return Figure(at, "%", fewer, low, high, free=free)
