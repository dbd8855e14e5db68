"""Where to play next: what the rungs so far say about the ceiling, and the tempo that fits the aim.

The model is that of `trainer.measure.ceiling`: the chance of a clean rung falls with tempo along a
logistic curve, whose middle is the ceiling. Here it is plain Python, because the engine chooses
rungs while somebody plays: a grid of tempos (20 to 400 BPM, evenly in the logarithm) and slopes,
and the likelihood of every rung on it.

- Where no ceiling is known and the rungs leave it wide (one standard deviation of more than `WIDE`)
  the rung is played where clean and not clean are equally likely: there it says most.
- Otherwise it is played where `CLEAN_AIM` of the rungs are clean. Of trial-and-error learning in
  machines and animals, error rates near 15% teach fastest (Wilson and others 2019, Nat. Commun.
  10:4646); motor learning gains most where the task is neither sure nor hopeless (challenge point,
  Guadagnoli and Lee 2004, J. Mot. Behav. 36:212-224). Both speak of other tasks than drumming; that
  four in five suits a ladder is our own choice between them.

A rung says at most 1 / (2 s) squared of the ceiling's logarithm, s the slope as a share of it
(Fisher's information of a logistic curve, where clean and not clean are equally likely). Twenty of
them leave 2 s / root 20: 0.9, 1.3 and 2.2% for slopes of 2, 3 and 5%, were all played at the
ceiling from the first on. On the way from a start at 70 to 95% of it they leave 1.1, 1.6 and 2.5%;
what the search had in 300 first ladders was 1.3, 1.7 and 2.6%. Larger steps, and staying at one in
two to the end, were no better.

The ceiling of former days is taken in as a bell curve in the logarithm of tempo, wider by the form
of a day; where only a bound is known, everything beyond it is equally likely.
"""

from __future__ import annotations

import math
import operator
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO

if TYPE_CHECKING:
    from collections.abc import Sequence

CLEAN_AIM = 0.8
"""Share of rungs that are to be clean once the ceiling is known."""

WIDE = 0.035
"""Standard deviation of the ceiling, as a share of it, above which it is still looked for."""

SLOPE_CENTRE, SLOPE_FACTOR = 0.05, 2.5
"""Slope of the curve as a share of the ceiling: log-normal about the first, by the second."""

FORM_SHARE = 0.025
"""How far a single day is from the player's level, as a share of it (one standard deviation)."""

_POINTS, _SLOPES, _HALVINGS = 240, (0.01, 0.02, 0.04, 0.07, 0.12), 11
_LOG_TEMPOS = [
    math.log(MIN_TEMPO) + place * math.log(MAX_TEMPO / MIN_TEMPO) / (_POINTS - 1)
    for place in range(_POINTS)
]
_TEMPOS = [math.exp(one) for one in _LOG_TEMPOS]
_EDGE = 0.03
"""How fast likelihood falls beyond the known end of a ceiling with an open end."""


@dataclass(frozen=True, slots=True)
class KnownCeiling:
    """A ceiling of former days: the ends of its interval in BPM, None where that end is open."""

    low: float | None
    high: float | None


def aimed_tempo(rungs: Sequence[tuple[float, bool]], known: KnownCeiling | None = None) -> float:
    """Return the tempo (BPM, not rounded) to play after some rungs, each its tempo and clean.

    With neither rungs nor a known ceiling it is the middle of the range.
    """
    chances = _chances(rungs, known)
    found = known is not None and None not in (known.low, known.high)
    return _tempo_of_chance(chances, CLEAN_AIM if found or not _is_wide(chances) else 0.5)


def _is_wide(chances: list[list[float]]) -> bool:
    """Return whether the ceiling is still to be found."""
    level = [math.fsum(column) for column in zip(*chances, strict=True)]
    middle = math.fsum(map(operator.mul, level, _LOG_TEMPOS))
    away = [(one - middle) * (one - middle) for one in _LOG_TEMPOS]
    return math.fsum(map(operator.mul, level, away)) > WIDE * WIDE


def _chances(rungs: Sequence[tuple[float, bool]], known: KnownCeiling | None) -> list[list[float]]:
    """Return how likely each slope (rows) and tempo (columns) of the grid is; the sum is one."""
    prior = [_log_prior(one, known) for one in _LOG_TEMPOS]
    rows = []
    for slope in _SLOPES:
        usual = -0.5 * (math.log(slope / SLOPE_CENTRE) / math.log(SLOPE_FACTOR)) ** 2
        said = [_log_likelihood(tempo, clean, slope) for tempo, clean in rungs]
        rows.append([usual + sum(column) for column in zip(prior, *said, strict=True)])
    highest = max(map(max, rows))
    chances = [[math.exp(one - highest) for one in row] for row in rows]
    total = math.fsum(map(math.fsum, chances))
    return [[one / total for one in row] for row in chances]


@lru_cache(maxsize=2000)
def _log_likelihood(tempo: float, clean: bool, slope: float) -> list[float]:
    """Return the log-likelihood of a rung's verdict for each tempo of the grid as the ceiling."""
    sign = 1.0 if clean else -1.0
    return [-_softplus(sign * (tempo - middle) / (middle * slope)) for middle in _TEMPOS]


def _softplus(value: float) -> float:
    """Return log(1 + exp(value)) without overflow."""
    return max(value, 0.0) + math.log1p(math.exp(-abs(value)))


def _log_prior(log_tempo: float, known: KnownCeiling | None) -> float:
    low = math.log(known.low) if known and known.low else None
    high = math.log(known.high) if known and known.high else None
    if low is not None and high is not None:
        wide = math.hypot((high - low) / (2 * 1.96), FORM_SHARE)
        return -0.5 * ((log_tempo - (low + high) / 2) / wide) ** 2
    below = max(0.0, (low - log_tempo) / _EDGE) if low is not None else 0.0
    above = max(0.0, (log_tempo - high) / _EDGE) if high is not None else 0.0
    return -0.5 * (below * below + above * above)


def _tempo_of_chance(chances: list[list[float]], chance: float) -> float:
    """Return the tempo at which a rung is clean with this chance, by what is known."""
    likely = [
        (one, middle, slope)
        for row, slope in zip(chances, _SLOPES, strict=True)
        for one, middle in zip(row, _TEMPOS, strict=True)
        if one > 1e-6
    ]
    low, high = MIN_TEMPO, MAX_TEMPO
    for _ in range(_HALVINGS):
        tempo = math.sqrt(low * high)
        clean = sum(
            one / (1.0 + math.exp(min(700.0, (tempo / middle - 1) / slope)))
            for one, middle, slope in likely
        )
        low, high = (tempo, high) if clean > chance else (low, tempo)
    return low
