"""How loud a level is in MIDI, both ways."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.pattern.tables import Level

if TYPE_CHECKING:
    from collections.abc import Sequence

VELOCITY = {Level.GHOST: 36, Level.NORMAL: 80, Level.ACCENT: 116}
"""The velocity a level is written with (common practice, no source)."""

LOUDEST_GHOST, SOFTEST_ACCENT = 50, 104


def level_of(velocity: int) -> Level:
    """Return the level a velocity stands for: a ghost up to 50, an accent from 104."""
    if velocity <= LOUDEST_GHOST:
        return Level.GHOST
    return Level.ACCENT if velocity >= SOFTEST_ACCENT else Level.NORMAL


def levels_of(velocities: Sequence[int]) -> list[Level]:
    """Return the level of each stroke; strokes that are all of one level are all normal.

    A file with every velocity at 127 says nothing about accents.
    """
    levels = [level_of(velocity) for velocity in velocities]
    return levels if len(set(levels)) > 1 else [Level.NORMAL] * len(levels)
