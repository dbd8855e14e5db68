"""The ceiling, the fastest tempo at which a pattern stays clean, and the margin over what you need.

The chance to be clean falls with tempo along a logistic curve, chance = 1 / (1 + exp((t - m) / s)),
t and m in BPM: m is the tempo of a 50% chance, s how gradual the fall is. The ceiling is m; the
75% tempo is m - s ln 3.

The ceiling is a level that moves, followed by a Bayesian filter on a grid of tempos (20 to 400 BPM,
evenly in the logarithm) and slopes. All its figures are our own choice:

- nothing is assumed about the first level; s / m is log-normal about 0.05, a factor of 2.5 either
  way at one standard deviation. A player near the ceiling thus goes from three clean in four to
  one in four over some 11% of tempo;
- *form*: on a single day the player is off that level by `FORM_SHARE` (one standard deviation);
- *drift*: from one day of play to the next the level moves by `DAY_DRIFT`, and by `PAUSE_DRIFT`
  times the root of the days between, either way; once in `LEAP_ONCE_IN` days it is anywhere.

So older rungs count less, and days without practice widen the interval. The figure is
the tempo of the highest density, and the interval holds every tempo whose log-density is within
1.92 of it (half the 0.95 point of chi-square with one degree of freedom, so nominally 95%). It is
called 90%, because neither players nor the choice of tempos by a ladder follow the model exactly.

`open_above`: nothing was tried that bounds the ceiling from above; the tempo given is then the low
end, and is worded "at least". `open_below`: the same from below, "at most".

Lapses are taken as 0; Prins 2012 (J. Vis. 12(6):25) shows how lapses bias such a curve:
one careless rung far below the ceiling lowers the figure and widens the interval.

Margin: a piece has a tempo and a note value: sixteenths at 152 BPM are 152 / 60 * 4 = 10.1 strokes
a second. A pattern's ceiling is a tempo; its fastest written hand strokes make it a rate too. The
margin is the one rate over the other, less one: +0.10 is a reserve of ten percent.

One rule on that interval, in whole percent as it is shown, says what a goal is:

- *safe*: the low end is at or above the reserve (`RESERVE`, our own choice: at ten percent below
  its ceiling a pattern with a fall of the usual slope is clean six times in seven);
- *in reach*: the low end is below that, and the high end at or above 0;
- *above*: the high end is below 0.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from trainer.pattern.model import HANDS, MAX_TEMPO, MIN_TEMPO, NOTE_VALUES

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

    from trainer.pattern.model import Pattern
    from trainer.practice.arrays import Floats


LOG_DENSITY_DROP = 1.92
SLOPE_CENTRE, SLOPE_FACTOR = 0.05, 2.5
FORM_SHARE, DAY_DRIFT, PAUSE_DRIFT = 0.025, 0.01, 0.004
LEAP_ONCE_IN = 500
SAME_DAY = 0.5
"""Days between two sessions up to which they are played in the same form."""

LN3 = math.log(3.0)

_LOG_TEMPO = np.linspace(math.log(MIN_TEMPO), math.log(MAX_TEMPO), 600)
_LOG_SLOPE = np.linspace(math.log(0.005), math.log(0.32), 12)
_TEMPO, _SLOPE = np.exp(_LOG_TEMPO)[:, None], np.exp(_LOG_SLOPE)[None, :]
_STEP = float(_LOG_TEMPO[1] - _LOG_TEMPO[0])


@dataclass(frozen=True, slots=True)
class RungOutcome:
    """One rung as played: its tempo in BPM, whether it was clean, how many days ago it was."""

    tempo: float
    clean: bool
    days_ago: float = 0.0


@dataclass(frozen=True, slots=True)
class TempoEstimate:
    """A tempo in BPM, the ends of its 90% interval, and whether an end is open."""

    tempo: float
    low: float
    high: float
    open_above: bool
    open_below: bool


@dataclass(frozen=True, slots=True)
class Ceiling:
    """The tempos of a 50% and a 75% chance to be clean, from `rungs` rungs."""

    half: TempoEstimate
    three_quarters: TempoEstimate
    rungs: int


def ceiling(rungs: Sequence[RungOutcome]) -> Ceiling | None:
    """Return the ceiling that the rungs speak for, or None where there are none.

    Rungs of one age make one session; the ceiling is that of today, age 0.
    """
    ages = sorted({max(one.days_ago, 0.0) for one in rungs}, reverse=True)
    sessions = [[one for one in rungs if max(one.days_ago, 0.0) == age] for age in ages]
    days = [before - age for before, age in pairwise([*ages[:1], *ages])]
    parts = list(zip(days, sessions, strict=True))
    return ceiling_history(parts, ages[-1])[-1] if rungs else None


def ceiling_history(
    parts: Sequence[tuple[float, Sequence[RungOutcome]]], idle_days: float = 0.0
) -> list[Ceiling]:
    """Return the ceiling after each session of a history, the oldest first.

    A part is the days since the session before, and its rungs, of whatever age; `idle_days` have
    passed since the last one.
    """
    level, today, count = _first_level(), np.zeros((len(_LOG_TEMPO), len(_LOG_SLOPE))), 0
    known, found = level, []
    for place, (days, rungs) in enumerate(parts):
        if place and days > SAME_DAY:
            level, today = _drifted(known, days), np.zeros_like(today)
        today += _log_likelihood(rungs)
        known = level * _blurred(np.exp(today - today.max()), FORM_SHARE)
        known /= known.sum()
        count += len(rungs)
        shown = known
        if place == len(parts) - 1 and idle_days > SAME_DAY:
            shown = _blurred(known, PAUSE_DRIFT * math.sqrt(idle_days))
        found.append(_ceiling(shown, count))
    return found


def _ceiling(level: Floats, rungs: int) -> Ceiling:
    """Return both tempos of a density over levels and slopes."""
    lower = np.zeros_like(level)
    for column, slope in enumerate(_SLOPE[0]):
        # The level of a three-quarters tempo lies above it by a step that the slope alone decides.
        moved = _LOG_TEMPO - math.log(1.0 - slope * LN3)
        lower[:, column] = np.interp(moved, _LOG_TEMPO, level[:, column])
    half, three_quarters = (_tempo_estimate(one.sum(axis=1)) for one in (level, lower))
    return Ceiling(half, three_quarters, rungs)


def _first_level() -> Floats:
    """Density of a level and slope that nothing is known of yet."""
    away = (_LOG_SLOPE - math.log(SLOPE_CENTRE)) / math.log(SLOPE_FACTOR)
    prior: Floats = np.tile(np.exp(-0.5 * away * away), (len(_LOG_TEMPO), 1))
    prior /= prior.sum()
    return prior


def _drifted(level: Floats, days: float) -> Floats:
    """Density on the next day of play, some days later."""
    moved = _blurred(level, math.hypot(DAY_DRIFT, PAUSE_DRIFT * math.sqrt(days)))
    anywhere = level.mean(axis=0, keepdims=True) / LEAP_ONCE_IN
    changed: Floats = moved * (1 - 1 / LEAP_ONCE_IN) + anywhere
    return changed


def _blurred(density: Floats, sd: float) -> Floats:
    """Density of a tempo moved either way by a share of itself (one standard deviation)."""
    reach = math.ceil(4 * sd / _STEP)
    if not reach:
        return density
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) * _STEP / sd) ** 2)
    wide = np.pad(density, ((reach, reach), (0, 0)), mode="edge")
    blurred = np.zeros_like(density)
    for place, weight in enumerate(weights / weights.sum()):
        blurred += weight * wide[place : place + len(density)]
    return blurred


def _log_likelihood(rungs: Sequence[RungOutcome]) -> Floats:
    """Log-likelihood of some rungs for each level and slope of the grid."""
    total = np.zeros((len(_LOG_TEMPO), len(_LOG_SLOPE)))
    alike = Counter((one.tempo, 1.0 if one.clean else -1.0) for one in rungs)
    for (tempo, sign), count in alike.items():
        total -= count * np.logaddexp(0.0, sign * (tempo - _TEMPO) / (_TEMPO * _SLOPE))
    return total


def _tempo_estimate(density: Floats) -> TempoEstimate:
    """Highest point and interval of a curve over the tempo grid."""
    best = int(np.argmax(density))
    inside = np.flatnonzero(density >= density[best] * math.exp(-LOG_DENSITY_DROP))
    low, high = float(np.exp(_LOG_TEMPO[inside[0]])), float(np.exp(_LOG_TEMPO[inside[-1]]))
    open_below, open_above = bool(inside[0] == 0), bool(inside[-1] == len(density) - 1)
    tempo = float(np.exp(_LOG_TEMPO[best]))
    if open_above and not open_below:
        tempo = low
    elif open_below and not open_above:
        tempo = high
    return TempoEstimate(tempo, low, high, open_above, open_below)


SAFE, IN_REACH, ABOVE = "safe", "in reach", "above"

RESERVE = 0.10
"""The margin a goal needs to be safe on a bad night."""


@dataclass(frozen=True, slots=True)
class Margin:
    """What is asked against what is there, both in strokes a second, and the verdict in a word.

    `margin` is the ceiling over what is asked, less one; `low` and `high` the same at the ends of
    the ceiling's interval.
    """

    asked: float
    ceiling: float
    margin: float
    low: float
    high: float
    standing: str


def needed_rate(tempo: float, value: str) -> float:
    """Return strokes a second of a note value (a name of NOTE_VALUES) at a tempo in quarters."""
    return tempo / 60.0 / float(NOTE_VALUES[value].length)


def fastest_hand_step(pattern: Pattern) -> Fraction | None:
    """Return the least distance between two hand strokes, in quarter notes; None with no two.

    Where nobody said which limb plays, every stroke counts as a hand's. Grace strokes are left out.
    """
    beats = sorted(
        {note.beat for note in pattern.notes if not note.grace and note.limb in (*HANDS, None)}
    )
    return min((b - a for a, b in pairwise(beats)), default=None)


def pattern_rate(pattern: Pattern, tempo: float) -> float | None:
    """Return a pattern's fastest hand strokes a second at a tempo in the pattern's own unit."""
    step = fastest_hand_step(pattern)
    return None if step is None else tempo * float(pattern.tempo_unit) / 60.0 / float(step)


def tempo_for_rate(pattern: Pattern, rate: float) -> float | None:
    """Return the tempo in the pattern's own unit at which its hands reach a rate."""
    one = pattern_rate(pattern, 1.0)
    return None if one is None else rate / one


def margin(asked: float, pattern: Pattern, found: Ceiling) -> Margin | None:
    """Compare a rate that is needed (strokes a second) with a pattern's ceiling.

    None where the pattern has no two hand strokes to make a rate of.
    """
    rates = [
        pattern_rate(pattern, tempo)
        for tempo in (found.half.tempo, found.half.low, found.half.high)
    ]
    if any(rate is None for rate in rates):
        return None
    rate, low, high = (float(one or 0.0) / asked - 1 for one in rates)
    return Margin(asked, float(rates[0] or 0.0), rate, low, high, standing_of(low, high))


def standing_of(low: float, high: float) -> str:
    """Return what a goal is by the ends of its margin's interval (shares, 0.1 for ten percent)."""
    if round(100 * low) >= round(100 * RESERVE):
        return SAFE
    return IN_REACH if round(100 * high) >= 0 else ABOVE
