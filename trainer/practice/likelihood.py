"""The model behind the matcher: how likely each explanation of a hit is, with all its numbers.

Every cost is minus the natural logarithm of a probability or, where time comes in, of a density
per second; costs add up and the least total is the most likely explanation. The shares are round
figures for a working player at the edge of what is clean; the matcher is insensitive to them within
a factor of two or three, which tests/bench/bench_matcher.py shows on players unlike these.

A player's lag (hit time minus target time, plus is late) is a constant, found within half a second
either way, plus a wander that is followed, plus a spread from stroke to stroke that is estimated.
Spread and loudness are learned on the way: both start from a common player and move with every
stroke that surely belonged to its target.
"""

from __future__ import annotations

from functools import cache
from math import exp, log, pi, sqrt

from trainer.kit.voices import VOICES

MISS_COST, STOPPED_COST = -log(0.025), -log(0.9)
"""A target without a hit, while the player plays and after the player seems to have stopped."""

WRONG_PAD_COST = -log(0.02)
"""A stroke that landed on a pad other than its own, before it is said which one."""

UNKNOWN_PAD_COST = WRONG_PAD_COST + 2.0
"""A stroke of a note that the kit does not know, for any target. It is no misfit: many kits have
zones that the kit file lacks."""

STRAY_COST = -log(0.03)
"""A hit on one given pad that belongs to no target: about one in half a minute."""

RUN_IN_COST = -log(0.35)
"""A hit before the first target of all: the count-in invites to run in."""

BOUNCE_COST = -log(12.0)
"""A bounce of a buzz stroke, anywhere while it is held: a dozen a second that are no other stroke's
(a judgement, no source)."""

BOUNCE_LATE_S = 0.050
"""So much later than it is written a buzz may begin and end."""

DOUBLE_S = 0.045
"""A double trigger follows its hit within this time (common practice: kits mask 5 to 50 ms)."""

DOUBLE_COST = -log(0.07 / DOUBLE_S)
"""A second hit from one stroke, anywhere within that time."""

LOUDER_DOUBLE = 0.15
"""A double trigger is louder than its hit by no more than this part of it (common practice)."""

FORERUNNER_S, FAINT_SHARE = 0.006, 0.4
"""Some modules send a faint head note 2 to 4 ms before a rim or a cross-stick: a hit on the same
drum that follows within this time, and is so much louder, is the stroke (measured on takes of one
module, velocities 5 to 11)."""

FORERUNNER_GAIN = STRAY_COST - -log(0.03 / FORERUNNER_S)
"""What such a note costs less than a stray one, once the stroke has followed."""

FLAM_S, FLAM_VARIANCE = 0.12, 0.010**2
"""A grace note leads its stroke by less than the first (s); how far both are apart varies by so
much (s^2; common practice, no source)."""

FLAM_NO_DOUBLE = 1.0
"""What a double trigger costs more where a grace note is due on its drum: the second hit is most
likely the flam's (a judgement, no source)."""

EARLY_SCALE_S = 0.08
"""For so much earlier a constant lag is less likely by a factor of e (a judgement, no source)."""

LAG_RANGE_S = 0.55
"""The player's lag is looked for this far either way."""

LAG_WANDER = 0.012**2
"""Variance the lag may gather in a second (s^2/s)."""

BEST_FIT = -4.2
"""No stroke fits better than this, however tight the player."""

REACH = 4.5
"""A hit further from its target than this many standard deviations belongs elsewhere."""

LONGEST_SILENCE_S = 8.0
"""Longer silence than this adds no more doubt about the lag."""

SLIPS = 4
"""So many strokes that fit badly, and the player has stopped or is lost: look everywhere again."""

WRONG_SLIPS = 2
"""A wrong pad counts for so many misfits; a stroke that fits takes one back."""

HOME_STROKES, HOME_APART_S, HOME_VARIANCE = 24, 0.060, 0.015**2
"""After so many strokes in a row that fit, the player's lag is at home. One found so much further
away, say after another bar than the written one, may be wrong: at every hit the player may be back
at home, with this variance (s^2)."""

RETURN_COST = -log(0.01)
"""What it costs to look for the player at home again."""

LOST_PAD_S = 0.06
"""Of a player whose place is lost, a stroke on another pad is believed only this near to where the
player was last, and shows nothing of where the player is now."""


def miss_cost(slips: int) -> float:
    """Return the cost of a target without a hit after so many misfits."""
    return MISS_COST if slips < SLIPS else STOPPED_COST


def offset_cost(offset: float, variance: float) -> float:
    """Return minus the log density of a residual; beyond three deviations it grows only linearly.

    Real playing has more far strokes than a normal law allows.
    """
    z2 = offset * offset / variance
    return 0.5 * log(2 * pi * variance) + (0.5 * z2 if z2 < 9.0 else 3.0 * sqrt(z2) - 4.5)


def first_lag_cost(lag: float, known: float | None) -> float:
    """Return the cost of a lag where none is being followed yet.

    Most players are within 50 ms of the beat, some late by a constant up to half a second (a kit
    through a slow link). One who was followed before (`known`) mostly comes back to that lag.
    Hardly anybody is early by a constant: a stroke well before the first target is sooner one too
    many, run into from the count-in, than the first of a whole take that is a step early.
    """
    near = 0.022 if known is None else 0.030
    centre = 0.015 if known is None else known
    close = exp(-0.5 * ((lag - centre) / near) ** 2) / near
    wide = exp(-0.5 * (lag / 0.3) ** 2 - max(0.0, centre - lag) / EARLY_SCALE_S) / 0.3
    share = 0.05 if known is None else 0.01
    return -log(((1.0 - share) * close + share * wide) / sqrt(2 * pi))


@cache
def pad_cost(struck: str | None, due: str) -> float:
    """Return the cost of the pad alone: 0 on the right one, less for a near wrong one than a far.

    `struck` is None for a note the kit does not know. A hand's stroke hardly ever lands under a
    foot, and the other way round.
    """
    if struck == due:
        return 0.0
    if struck is None or struck not in VOICES or due not in VOICES:
        return UNKNOWN_PAD_COST
    here, there = VOICES[struck], VOICES[due]
    if here.foot != there.foot:
        return WRONG_PAD_COST + 4.0
    away = sqrt((here.place[0] - there.place[0]) ** 2 + (here.place[1] - there.place[1]) ** 2)
    return WRONG_PAD_COST + 0.7 + min(2.0, 2.0 * away)


def double_cost(delay_s: float, velocity: float, velocity_before: float) -> float:
    """Return the cost of a hit as the double trigger of the one before it on the same pad.

    `delay_s` is in seconds, velocities from 1 to 127. Doubles are mostly softer than their hit,
    never much louder: that is the main stroke of a flam. Equal velocities show nothing, since some
    kits send one velocity for all.
    """
    louder = (velocity - velocity_before) / max(1, velocity_before)
    if delay_s > DOUBLE_S or louder > LOUDER_DOUBLE:
        return float("inf")
    return DOUBLE_COST + (0.0 if louder == 0 else max(-0.7, 3.0 * (louder + 0.2)))


def is_forerunner(delay_s: float, velocity: float, velocity_after: float) -> bool:
    """Return whether a hit is the faint note that a kit sends just before the stroke itself."""
    return delay_s <= FORERUNNER_S and velocity <= FAINT_SHARE * velocity_after


FIRST_SPREAD_S = 0.012
"""Stroke-to-stroke spread assumed until the hits show it (Fujii 2011 finds 10 to 16 ms)."""

LEAST_SPREAD_S, MOST_SPREAD_S = 0.006, 0.050

FIRST_LOUDNESS = {"ghost": 45.0, "normal": 80.0, "accent": 100.0}
"""MIDI velocities a level is expected at, until the hits show it (common practice, no source)."""

FIRST_LOUDNESS_VARIANCE, LEAST_LOUDNESS_VARIANCE = 25.0**2, 6.0**2

MOST_LOUDNESS_COST = 4.0
"""Loudness alone never costs more than this: it is a hint, not a proof."""

SPREAD_MEMORY, LOUDNESS_MEMORY = 80.0, 40.0
"""Strokes that count: the newest replaces one part in so many."""


class PlayerModel:
    """The player's spread (`variance`, s^2), and how hard each voice is struck at each level."""

    def __init__(self) -> None:
        self.variance = FIRST_SPREAD_S**2
        self._strokes = 12.0
        self._loudness: dict[tuple[str, str], tuple[float, float, float]] = {}

    def surprise(self, voice: str, level: str, velocity: float) -> float:
        """Return the cost of a velocity where this level is written for this voice."""
        known = self._loudness.get((voice, level))
        mean, variance = known[:2] if known else (FIRST_LOUDNESS[level], FIRST_LOUDNESS_VARIANCE)
        return min(MOST_LOUDNESS_COST, 0.5 * (velocity - mean) ** 2 / variance)

    def learn_time(self, residual_s: float, doubt: float) -> None:
        """Learn from how far a stroke lay from the lag as known after it (variance `doubt`)."""
        if doubt >= self.variance:
            return
        squared = min(residual_s**2 / (1.0 - doubt / self.variance), 9.0 * self.variance)
        self._strokes = min(self._strokes + 1.0, SPREAD_MEMORY)
        variance = self.variance + (squared - self.variance) / self._strokes
        self.variance = min(MOST_SPREAD_S**2, max(LEAST_SPREAD_S**2, variance))

    def learn_loudness(self, voice: str, level: str, velocity: float) -> None:
        """Learn from the velocity of a stroke on its own pad."""
        key = (voice, level)
        mean, variance, strokes = self._loudness.get(key) or (
            FIRST_LOUDNESS[level],
            FIRST_LOUDNESS_VARIANCE,
            3.0,
        )
        strokes = min(strokes + 1.0, LOUDNESS_MEMORY)
        away = velocity - mean
        squared = min(away * away, 6.0 * variance)
        self._loudness[key] = (
            mean + away / strokes,
            max(LEAST_LOUDNESS_VARIANCE, variance + (squared - variance) / strokes),
            strokes,
        )
