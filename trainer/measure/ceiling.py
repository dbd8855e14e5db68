"""The ceiling, the fastest tempo at which a pattern stays clean, and the margin over what you need.

The chance to be clean falls with tempo along a logistic curve, chance = 1 / (1 + exp((t - m) / s)),
t and m in BPM: m is the tempo of a 50% chance, s how gradual the fall is. The ceiling is m; the
75% tempo is m - s ln 3.

Prior, our own choice: nothing is assumed about m; s / m is log-normal about 0.05, a factor of 2.5
either way at one standard deviation. A player near the ceiling thus goes from three clean in four
to one in four over some 11% of tempo. The likelihood of a tempo is averaged over that prior on a
grid from 20 to 400 BPM; the figure is the tempo of the highest likelihood, and the interval holds
every tempo whose log-likelihood is within 1.92 of it.

That drop is nominally a 95% interval (half the 0.95 point of chi-square, one degree of freedom).
It is called 90% because a ladder chooses its tempos by the outcomes so far, which makes such
intervals too narrow: over simulated ladders it covers the truth in 90% or a little more.

`open_above`: nothing was tried that bounds the ceiling from above; the tempo given is then the low
end, and is worded "at least". `open_below`: the same from below, "at most".

Older rungs count less: a rung's weight halves every `half_life_days`, because a ceiling moves over
the months. Lapses are taken as 0; Prins 2012 (J. Vis. 12(6):25) shows how lapses bias such a curve:
one careless rung far below the ceiling lowers the figure and widens the interval.

Margin: a piece has a tempo and a note value: sixteenths at 152 BPM are 152 / 60 * 4 = 10.1 strokes
a second. A pattern's ceiling is a tempo; its fastest written hand strokes make it a rate too. The
margin is the one rate over the other, less one: +0.10 is a reserve of ten percent.

- *safe*: the rate you need is below the tempo of three clean in four, even at the low end of its
  interval;
- *in reach*: it is below the high end of the ceiling's interval;
- *above*: it is not.
"""

from __future__ import annotations

import math
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


LOG_LIKELIHOOD_DROP = 1.92
HALF_LIFE_DAYS = 28.0
SLOPE_CENTRE, SLOPE_FACTOR = 0.05, 2.5
LN3 = math.log(3.0)

_LOG_TEMPO = np.linspace(math.log(MIN_TEMPO), math.log(MAX_TEMPO), 600)
_LOG_SLOPE = np.linspace(math.log(0.005), math.log(0.32), 24)


@dataclass(frozen=True, slots=True)
class RungOutcome:
    """One rung as played: its tempo in BPM, whether it was clean, how many days ago it was."""

    tempo: float
    clean: bool
    days_ago: float = 0.0


@dataclass(frozen=True, slots=True)
class TempoEstimate:
    """A tempo in BPM, the ends of its 90 % interval, and whether an end is open."""

    tempo: float
    low: float
    high: float
    open_above: bool
    open_below: bool


@dataclass(frozen=True, slots=True)
class Ceiling:
    """The tempos of a 50 % and a 75 % chance to be clean, from `rungs` rungs."""

    half: TempoEstimate
    three_quarters: TempoEstimate
    rungs: int


def ceiling(rungs: Sequence[RungOutcome], half_life_days: float = HALF_LIFE_DAYS) -> Ceiling | None:
    """Return the ceiling that the rungs speak for, or None where there are none."""
    return ceiling_history([(0.0, rungs)], half_life_days)[0] if rungs else None


def ceiling_history(
    parts: Sequence[tuple[float, Sequence[RungOutcome]]], half_life_days: float = HALF_LIFE_DAYS
) -> list[Ceiling]:
    """Return the ceiling after each part of a history, the oldest part first.

    A part is the days since the end of the one before, and its rungs with their age at its own end;
    the first one has at least one rung. Since all weights fall alike, a part only adds to what was
    known before: a long history costs no more than its rungs.
    """
    slope = np.exp(_LOG_SLOPE)[None, :]
    tempo = np.exp(_LOG_TEMPO)[:, None]
    middles = (tempo, tempo / (1.0 - slope * LN3))
    known = [np.zeros((len(_LOG_TEMPO), len(_LOG_SLOPE))) for _ in middles]
    count, found = 0, []
    for days, rungs in parts:
        rows, kept = (
            _weighted_rungs(rungs, half_life_days),
            0.5 ** (max(days, 0.0) / half_life_days),
        )
        count += len(rungs)
        for one, middle in zip(known, middles, strict=True):
            one *= kept
            one += _log_likelihood(rows, middle, middle * slope)
        half, three_quarters = (_tempo_estimate(_slope_averaged(one)) for one in known)
        found.append(Ceiling(half, three_quarters, count))
    return found


def clean_chance(tempo: float, middle: float, scale: float) -> float:
    """Return the chance to be clean at a tempo (all BPM) on a curve with that middle and scale."""
    return 1.0 / (1.0 + math.exp(min(max((tempo - middle) / scale, -700.0), 700.0)))


def _weighted_rungs(
    rungs: Sequence[RungOutcome], half_life_days: float
) -> list[tuple[float, float, float]]:
    """(tempo, +1 clean or -1 not, weight), one row for all rungs of a tempo and outcome.

    Gathering keeps a long history as cheap as a short one.
    """
    total: dict[tuple[float, float], float] = {}
    for rung in rungs:
        key = (rung.tempo, 1.0 if rung.clean else -1.0)
        weight = 0.5 ** (max(rung.days_ago, 0.0) / half_life_days)
        total[key] = total.get(key, 0.0) + weight
    return [(tempo, sign, weight) for (tempo, sign), weight in total.items()]


def _log_likelihood(
    rows: list[tuple[float, float, float]],
    middle: Floats,
    scale: Floats,
) -> Floats:
    """Log-likelihood of some rungs for each tempo (row) and slope (column) of the grid.

    `middle` and `scale` are shaped (tempos, slopes) or broadcast to that.
    """
    total = np.zeros(scale.shape)
    for tempo, sign, weight in rows:
        total -= weight * np.logaddexp(0.0, sign * (tempo - middle) / scale)
    return total


def _slope_averaged(log_likelihood: Floats) -> Floats:
    """Log-likelihood of each tempo, averaged over the prior of the slope."""
    prior = -0.5 * ((_LOG_SLOPE - math.log(SLOPE_CENTRE)) / math.log(SLOPE_FACTOR)) ** 2
    found: Floats = np.logaddexp.reduce(log_likelihood + prior, axis=1)
    return found


def _tempo_estimate(log_likelihood: Floats) -> TempoEstimate:
    """Highest point and interval of a curve over the tempo grid."""
    best = int(np.argmax(log_likelihood))
    inside = np.flatnonzero(log_likelihood >= log_likelihood[best] - LOG_LIKELIHOOD_DROP)
    low, high = float(np.exp(_LOG_TEMPO[inside[0]])), float(np.exp(_LOG_TEMPO[inside[-1]]))
    open_below, open_above = bool(inside[0] == 0), bool(inside[-1] == len(log_likelihood) - 1)
    tempo = float(np.exp(_LOG_TEMPO[best]))
    if open_above and not open_below:
        tempo = low
    elif open_below and not open_above:
        tempo = high
    return TempoEstimate(tempo, low, high, open_above, open_below)


SAFE, IN_REACH, ABOVE = "safe", "in reach", "above"


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


def margin(asked: float, pattern: Pattern, found: Ceiling) -> Margin | None:
    """Compare a rate asked for (strokes a second) with a pattern's ceiling.

    None where the pattern has no two hand strokes to make a rate of.
    """
    rates = [
        pattern_rate(pattern, tempo)
        for tempo in (found.half.tempo, found.half.low, found.half.high, found.three_quarters.low)
    ]
    if any(rate is None for rate in rates):
        return None
    rate, low, high, sure = (float(rate or 0.0) for rate in rates)
    standing = SAFE if asked <= sure else IN_REACH if asked <= high else ABOVE
    return Margin(asked, rate, rate / asked - 1, low / asked - 1, high / asked - 1, standing)
