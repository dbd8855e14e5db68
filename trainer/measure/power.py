"""Power: MIDI velocity (1 to 127) of the strokes, and whether accents and ghosts are as written.

Only main strokes on the right pad count. Velocity is the kit's own scale: curves differ from kit to
kit and from pad to pad, so figures compare within one kit, and strokes within one voice.

- `uneven`: spread of velocity among strokes that should be equal, that is around the mean of each
  voice and level, in steps of velocity.
- `balance`: right hand minus left hand at equal voice and level, in steps; plus: the right is
  louder. Only voices and levels that both hands play count.
- `accents`, `ghosts`: mean velocity of accents minus ordinary strokes, of ghosts minus ordinary
  strokes, each at equal voice. Right is plus for accents and minus for ghosts.
- `accents_right`, `ghosts_right`: percentage of accents louder (ghosts softer) than the mean of the
  ordinary strokes of their voice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import (
    SPREAD_COUNT,
    SURE,
    Figure,
    difference,
    mean,
    share,
    spread,
    too_few,
    withheld,
)
from trainer.measure.take_arrays import LEFT_HAND, LEVELS, RIGHT_HAND, indexes_by_code
from trainer.measure.threshold import chi2_quantile
from trainer.practice.arrays import average

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools, Floats, Ints

VELOCITY_UNIT = "velocity"
GHOST, NORMAL, ACCENT = (LEVELS.index(level) for level in ("ghost", "normal", "accent"))


@dataclass(frozen=True, slots=True)
class Loudness:
    """Mean and spread of velocity of one group of strokes."""

    mean: Figure
    spread: Figure


@dataclass(frozen=True, slots=True)
class Power:
    """Velocity of the whole take and by limb, voice and level; what the head of this file says."""

    mean: Figure
    uneven: Figure
    balance: Figure
    accents: Figure
    accents_right: Figure
    ghosts: Figure
    ghosts_right: Figure
    by_limb: dict[str, Loudness]
    by_voice: dict[str, Loudness]
    by_level: dict[str, Loudness]


def power(take: TakeArrays) -> Power:
    """Measure the velocities of a take."""
    played, velocity = take.played, take.velocity
    cell = take.voice * len(LEVELS) + take.level
    accents, accents_right = _contrast(take, ACCENT)
    ghosts, ghosts_right = _contrast(take, GHOST)
    return Power(
        mean=mean(velocity[played], VELOCITY_UNIT),
        uneven=_uneven([velocity[those] for _, those in indexes_by_code(cell, played)]),
        balance=_balance(take, cell),
        accents=accents,
        accents_right=accents_right,
        ghosts=ghosts,
        ghosts_right=ghosts_right,
        by_limb=_loudness_by(take, "limb"),
        by_voice=_loudness_by(take, "voice"),
        by_level=_loudness_by(take, "level"),
    )


def _loudness_by(take: TakeArrays, key: str) -> dict[str, Loudness]:
    return {
        take.name(key, code): Loudness(
            mean(take.velocity[those], VELOCITY_UNIT), spread(take.velocity[those], VELOCITY_UNIT)
        )
        for code, those in indexes_by_code(take.codes(key), take.played)
    }


def _uneven(cells: list[Floats]) -> Figure:
    """Pooled standard deviation around each cell's mean."""
    used = [one for one in cells if len(one) > 1]
    count = sum(len(one) for one in used)
    free = count - len(used)
    if free < SPREAD_COUNT - 1:
        return too_few(VELOCITY_UNIT, count, SPREAD_COUNT + max(0, len(used) - 1))
    square = math.fsum(value for one in used for value in ((one - average(one)) ** 2).tolist())
    low, high = (square / chi2_quantile(0.5 + side * SURE / 2, free) for side in (1, -1))
    return Figure(math.sqrt(square / free), VELOCITY_UNIT, count, math.sqrt(low), math.sqrt(high))


def _balance(take: TakeArrays, cell: Ints) -> Figure:
    """Right minus left over the cells that both hands play, after each cell's own middle."""
    right, left = (take.played & (take.limb == hand) for hand in (RIGHT_HAND, LEFT_HAND))
    both = np.intersect1d(cell[right], cell[left])
    if not len(both):
        return withheld(VELOCITY_UNIT, 0, "the hands play no voice in common")
    middle = np.zeros(int(cell.max()) + 1)
    for code in both:
        hands = [take.velocity[hand & (cell == code)] for hand in (right, left)]
        middle[code] = sum(average(one) for one in hands) / 2
    ours = np.isin(cell, both)
    rest = take.velocity - middle[cell]
    return difference(
        mean(rest[right & ours], VELOCITY_UNIT), mean(rest[left & ours], VELOCITY_UNIT)
    )


def _contrast(take: TakeArrays, level: int) -> tuple[Figure, Figure]:
    """A level minus ordinary strokes at equal voice, and the share that lies on the right side."""
    special, plain = (take.played & (take.level == one) for one in (level, NORMAL))
    name = "accents" if level == ACCENT else "ghosts"
    voices = np.intersect1d(take.voice[special], take.voice[plain])
    if not len(voices):
        why = f"no voice has both {name} and ordinary strokes"
        return withheld(VELOCITY_UNIT, 0, why), withheld("%", 0, why)
    base = np.zeros(int(take.voice.max()) + 1)
    for code in voices:
        base[code] = average(take.velocity[plain & (take.voice == code)])
    over = _above_ordinary(take, special, base, voices)
    ordinary = _above_ordinary(take, plain, base, voices)
    right = np.count_nonzero(over > 0 if level == ACCENT else over < 0)
    return (
        difference(mean(over, VELOCITY_UNIT), mean(ordinary, VELOCITY_UNIT)),
        share(int(right), len(over), name),
    )


def _above_ordinary(take: TakeArrays, which: Bools, base: Floats, voices: Ints) -> Floats:
    those = np.flatnonzero(which & np.isin(take.voice, voices))
    above: Floats = take.velocity[those] - base[take.voice[those]]
    return above
