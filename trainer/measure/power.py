"""Power: MIDI velocity (1 to 127) of the strokes, and whether it does what the page says.

Only main strokes on the right pad count. Velocity is the kit's own scale: curves differ from kit to
kit and from pad to pad, so figures compare within one kit, and strokes within one voice.

- `uneven`: spread of velocity among what should be equal, that is around the mean of each voice and
  level, in steps of velocity.
- `balance`: right hand minus left hand at equal voice and level, in steps; plus: the right is
  louder. Only voices and levels that both hands play count.
- `accents`, `ghosts`: mean velocity of accents minus ordinary strokes, of ghosts minus ordinary
  strokes, each at equal voice. Right is plus for accents and minus for ghosts.
- `accents_right`, `ghosts_right`: per cent of accents louder (ghosts softer) than the mean of the
  ordinary strokes of their voice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.chance import chi2_quantile
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
from trainer.measure.frame import LEVELS, LIMBS, groups

if TYPE_CHECKING:
    from trainer.measure.frame import Bools, Floats, Frame, Ints

UNIT = "velocity"
RIGHT, LEFT = LIMBS.index("RH"), LIMBS.index("LH")
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


def power(frame: Frame) -> Power:
    """Measure the velocities of a take."""
    played, velocity = frame.played, frame.velocity
    cell = frame.voice * len(LEVELS) + frame.level
    accents, accents_right = _contrast(frame, ACCENT)
    ghosts, ghosts_right = _contrast(frame, GHOST)
    return Power(
        mean=mean(velocity[played], UNIT),
        uneven=_uneven([velocity[those] for _, those in groups(cell, played)]),
        balance=_balance(frame, cell),
        accents=accents,
        accents_right=accents_right,
        ghosts=ghosts,
        ghosts_right=ghosts_right,
        by_limb=_by(frame, "limb"),
        by_voice=_by(frame, "voice"),
        by_level=_by(frame, "level"),
    )


def _by(frame: Frame, key: str) -> dict[str, Loudness]:
    return {
        frame.name(key, code): Loudness(
            mean(frame.velocity[those], UNIT), spread(frame.velocity[those], UNIT)
        )
        for code, those in groups(frame.codes(key), frame.played)
    }


def _uneven(cells: list[Floats]) -> Figure:
    """Pooled standard deviation around each cell's mean."""
    used = [one for one in cells if len(one) > 1]
    count = sum(len(one) for one in used)
    free = count - len(used)
    if free < SPREAD_COUNT - 1:
        return too_few(UNIT, count, SPREAD_COUNT + max(0, len(used) - 1))
    square = sum(float(np.sum((one - np.mean(one)) ** 2)) for one in used)
    low, high = (square / chi2_quantile(0.5 + side * SURE / 2, free) for side in (1, -1))
    return Figure(math.sqrt(square / free), UNIT, count, math.sqrt(low), math.sqrt(high))


def _balance(frame: Frame, cell: Ints) -> Figure:
    """Right minus left over the cells that both hands play, after each cell's own middle."""
    right, left = (frame.played & (frame.limb == hand) for hand in (RIGHT, LEFT))
    both = np.intersect1d(cell[right], cell[left])
    if not len(both):
        return withheld(UNIT, 0, "the hands play no voice in common")
    middle = np.zeros(int(cell.max()) + 1)
    for code in both:
        hands = [frame.velocity[hand & (cell == code)] for hand in (right, left)]
        middle[code] = float(np.mean([np.mean(one) for one in hands]))
    ours = np.isin(cell, both)
    rest = frame.velocity - middle[cell]
    return difference(mean(rest[right & ours], UNIT), mean(rest[left & ours], UNIT))


def _contrast(frame: Frame, level: int) -> tuple[Figure, Figure]:
    """A level minus ordinary strokes at equal voice, and the share that lies on the right side."""
    special, plain = (frame.played & (frame.level == one) for one in (level, NORMAL))
    name = "accents" if level == ACCENT else "ghosts"
    voices = np.intersect1d(frame.voice[special], frame.voice[plain])
    if not len(voices):
        why = f"no voice has both {name} and ordinary strokes"
        return withheld(UNIT, 0, why), withheld("%", 0, why)
    base = np.zeros(int(frame.voice.max()) + 1)
    for code in voices:
        base[code] = float(np.mean(frame.velocity[plain & (frame.voice == code)]))
    over = _above(frame, special, base, voices)
    ordinary = _above(frame, plain, base, voices)
    right = np.count_nonzero(over > 0 if level == ACCENT else over < 0)
    return (
        difference(mean(over, UNIT), mean(ordinary, UNIT)),
        share(int(right), len(over), name),
    )


def _above(frame: Frame, which: Bools, base: Floats, voices: Ints) -> Floats:
    those = np.flatnonzero(which & np.isin(frame.voice, voices))
    above: Floats = frame.velocity[those] - base[frame.voice[those]]
    return above
