"""Learners who practise evening after evening: what an evening does to them is assumed, and known.

No number here was measured on drummers. What is assumed:

- A learner has a *level* for every pattern: the tempo (BPM) at which half the rungs are clean.
  Rungs are played by chance along the curve of `simulated_takes.clean_chance`, whose scale is 5% of
  the level; by the program's own ladders, which learn nothing but clean or not.
- *Learning*: each rung brings the level nearer to a limit of its own (`talent` above where the
  pattern began, in logarithms), by a share of what is left (exponential gain with practice). That
  share is `rate` for a rung that is clean four times in five. It falls to none for rungs that are
  always or never clean, and with the minutes of the same pattern on the same evening (half as much
  after `half_minutes` of them).
- *Transfer*: a share of every gain goes to all other patterns. *Mixing*: gains are greater by a
  share in a block that follows another pattern's.
- *Forgetting*: every night a share of what was ever gained is lost; half of it where the pattern
  was practised on that day or the day before.
- *Fatigue*: every minute of playing lowers tonight's level by `FATIGUE`, every minute of rest
  brings back twice that; tired minutes teach less, in ten times that measure.
- *Form*: the level of an evening is off by 2.5% either way.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from itertools import pairwise

from simulated_takes import clean_chance

from trainer.measure.ceiling import RungOutcome, ceiling_history
from trainer.practice.ceiling_search import CLEAN_AIM, KnownCeiling
from trainer.practice.evening import DUE, GOAL, LATELY, Candidate, first_tempo, gap_days, lay_out
from trainer.practice.ladder import (
    AIMED,
    STEADY,
    Ladder,
    chosen_rule,
    first_standing,
    next_standing,
)
from trainer.practice.ladder_plan import BREATH_S
from trainer.practice.routine import LADDER, REST

SLOPE, FORM = 0.05, 0.025
FATIGUE = 0.002
RUNG_STROKES, BEATS_IN = 192, 4
STROKES_A_BEAT = 4
REMEMBERED = 4
"""Evenings of a pattern that its ceiling is worked out from here, to save time."""


@dataclass(frozen=True)
class Assumed:
    """What is assumed of learning; see above."""

    talent: float = 0.5
    rate: float = 0.004
    transfer: float = 0.0
    mixing: float = 0.0
    forgetting: float = 0.01
    half_minutes: float = 8.0


@dataclass
class Learner:
    """A player of some patterns. `levels` and `began` are logarithms of BPM."""

    assumed: Assumed
    levels: dict[str, float]
    dice: random.Random
    day: int = 0
    played_on: dict[str, list[int]] = field(default_factory=dict)
    rungs: dict[str, list[tuple[int, list[RungOutcome]]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.began = dict(self.levels)
        self.known: dict[tuple[int, str], object] = {}

    def begin(self) -> None:
        """An evening begins: rested, in the form of the day."""
        self.tired, self.form = 0.0, self.dice.gauss(0, FORM)
        self.minutes: dict[str, float] = dict.fromkeys(self.levels, 0.0)
        self.before = ""

    def rest(self, minutes: float) -> None:
        """Sticks down."""
        self.tired = max(0.0, self.tired - 2 * FATIGUE * minutes)

    def climb(self, pattern: str, minutes: float, ladder: Ladder, *, teaches: bool = True) -> None:
        """Play a ladder for some minutes."""
        standing, left = first_standing(ladder), 60 * minutes
        mixed = 1 + self.assumed.mixing * (self.before not in ("", pattern))
        tonight = self._tonight(pattern)
        while (long := self._rung_s(standing.tempo)) <= left:
            left -= long
            level = math.exp(self.levels[pattern] + self.form - self.tired)
            chance = clean_chance(standing.tempo, level, SLOPE * level)
            clean = self.dice.random() < chance
            tonight.append(RungOutcome(standing.tempo, clean))
            if teaches:
                self._learn(pattern, chance, long / 60, mixed)
            standing = next_standing(ladder, standing, clean)
        self.before = pattern

    def _tonight(self, pattern: str) -> list[RungOutcome]:
        rows = self.rungs.setdefault(pattern, [])
        if not rows or rows[-1][0] != self.day:
            rows.append((self.day, []))
            self.played_on.setdefault(pattern, []).append(self.day)
        return rows[-1][1]

    @staticmethod
    def _rung_s(tempo: float) -> float:
        return (RUNG_STROKES / STROKES_A_BEAT + BEATS_IN) * 60 / tempo + BREATH_S

    def _learn(self, pattern: str, chance: float, minutes: float, mixed: float) -> None:
        best = CLEAN_AIM * (1 - CLEAN_AIM)
        hard = min(1.0, chance * (1 - chance) / best)
        fresh = 0.5 ** (self.minutes[pattern] / self.assumed.half_minutes) * max(
            0.0, 1 - 10 * self.tired
        )
        left = self.began[pattern] + self.assumed.talent - self.levels[pattern]
        gain = self.assumed.rate * 2 * minutes * hard * fresh * mixed * max(0.0, left)
        for name in self.levels:
            share = 1.0 if name == pattern else self.assumed.transfer
            self.levels[name] += share * gain
        self.minutes[pattern] += minutes
        self.tired += FATIGUE * minutes

    def sleep(self) -> None:
        """A night: something of what was gained is lost."""
        for name, level in self.levels.items():
            fresh = self.day - self.played_on.get(name, [-99])[-1] <= 1
            lost = self.assumed.forgetting * (0.5 if fresh else 1.0)
            self.levels[name] = level - lost * max(0.0, level - self.began[name])
        self.day += 1

    def strokes(self, pattern: str) -> float:
        """Strokes a second at the level, which the learner does not know."""
        return math.exp(self.levels[pattern]) * STROKES_A_BEAT / 60

    # What the program knows of the learner

    def ceiling(self, pattern: str):
        """The ceiling of the rungs of former evenings, as of today; None without one."""
        if (self.day, pattern) not in self.known:
            self.known[self.day, pattern] = self._ceiling(pattern)
        return self.known[self.day, pattern]

    def _ceiling(self, pattern: str):
        rows = [row for row in self.rungs.get(pattern, []) if row[1] and row[0] < self.day]
        rows = rows[-REMEMBERED:]
        if not rows:
            return None
        days = [0, *(after[0] - before[0] for before, after in pairwise(rows))]
        parts = [(float(gap), rungs) for gap, (_, rungs) in zip(days, rows, strict=True)]
        return ceiling_history(parts, float(self.day - rows[-1][0]))[-1]

    def ladder(self, pattern: str, rule: str, written: float) -> Ladder:
        """A ladder as the program makes it: below the ceiling where one is known."""
        found = self.ceiling(pattern)
        start = written
        known = None
        if found:
            ends = found.half
            start = first_tempo(written, found.three_quarters.tempo)
            known = KnownCeiling(
                None if ends.open_below else ends.low, None if ends.open_above else ends.high
            )
        return Ladder(start, chosen_rule(rule, None)[1], rule=rule, known=known)

    def candidates(self, goal: float) -> list[Candidate]:
        """What the program would find: the patterns that are short of a goal, and what is due."""
        found = []
        for name in self.levels:
            one = self.ceiling(name)
            played = self.played_on.get(name, [])
            days = float(self.day - played[-1]) if played else None
            most = one.three_quarters.tempo if one else None
            short = (one.half.tempo / goal - 1) if one else -1.0
            begin = first_tempo(WRITTEN, most)
            more = {"days": days, "practised": len(played)}
            found.append(Candidate(GOAL, name, begin, most, margin=short, **more))
            if days is not None:
                reason = DUE if days >= gap_days(len(played)) else LATELY
                found.append(Candidate(reason, name, begin, most, **more))
        # The order of trainer.actions.tonight: furthest from the goal first, longest overdue first.
        return sorted(found, key=lambda one: (one.margin or 0.0, -(one.days or 0.0)))


WRITTEN = 80.0
"""The tempo the patterns are written at."""


def learner(assumed: Assumed, patterns: int, seed: int) -> Learner:
    """A learner whose patterns begin at 80 to 130 BPM."""
    dice = random.Random(seed)
    levels = {f"p{at}": math.log(dice.uniform(80, 130)) for at in range(patterns)}
    return Learner(assumed, levels, dice)


def planned(one: Learner, minutes: float, goal: float) -> None:
    """An evening as `trainer tonight` lays it out; every pattern is short of the goal."""
    for block in lay_out(minutes, one.candidates(goal)).blocks:
        if block.block.kind == REST:
            one.rest(block.block.minutes)
            continue
        name = block.block.pattern
        ladder = one.ladder(name, AIMED, block.begin)
        if block.block.kind == LADDER:
            one.climb(name, block.block.minutes, ladder)
        else:
            one.tired += FATIGUE * block.block.minutes * 0.5


def same_ladder(one: Learner, minutes: float, _goal: float, rule: str = STEADY) -> None:
    """The first pattern all evening by a plain ladder, without a rest."""
    one.climb("p0", minutes, one.ladder("p0", rule, WRITTEN))


def same_rested(one: Learner, minutes: float, _goal: float) -> None:
    """The same by an aimed ladder, with the warm-up and the rests of the plan."""
    for _ in range(3):
        one.climb("p0", (minutes - 10) / 3, one.ladder("p0", AIMED, WRITTEN))
        one.rest(2.5)


def in_turn(one: Learner, minutes: float, _goal: float) -> None:
    """Each evening the next pattern by a plain ladder, without a rest."""
    name = [*one.levels][one.day % len(one.levels)]
    one.climb(name, minutes, one.ladder(name, STEADY, WRITTEN))


def gains(way, assumed: Assumed, seed: int, evenings: int = 30, minutes: float = 40) -> tuple:
    """Strokes a second gained after some evenings: mean of four patterns, and on the first."""
    one = learner(assumed, 4, seed)
    before = {name: one.strokes(name) for name in one.levels}
    for _ in range(evenings):
        one.begin()
        way(one, minutes, 200.0)
        one.sleep()
    gained = [one.strokes(name) - before[name] for name in one.levels]
    return sum(gained) / len(gained), gained[0]
