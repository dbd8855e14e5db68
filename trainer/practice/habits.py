"""What the matcher learns about a player on the way: how tight the strokes are and how loud.

Both start from a common player and move with every stroke that surely landed where it belonged.
"""

from __future__ import annotations

FIRST_SPREAD_S = 0.012
"""Stroke-to-stroke spread taken for granted until the hits tell (Fujii 2011 finds 10 to 16 ms)."""

LEAST_SPREAD_S, MOST_SPREAD_S = 0.006, 0.050

FIRST_LOUDNESS = {"ghost": 45.0, "normal": 80.0, "accent": 100.0}
"""MIDI velocities a level is expected at, until the hits tell (common practice, no source)."""

FIRST_VARIANCE, LEAST_VARIANCE = 25.0**2, 6.0**2

MOST_SURPRISE = 4.0
"""Loudness alone never costs more than this: it is a hint, not a proof."""

SPREAD_MEMORY, LOUDNESS_MEMORY = 80.0, 40.0
"""Strokes that count: the newest replaces one part in so many."""


class Habits:
    """The player's spread (`variance`, s^2), and how hard each voice is struck at each level."""

    def __init__(self) -> None:
        self.variance = FIRST_SPREAD_S**2
        self._strokes = 12.0
        self._loudness: dict[tuple[str, str], tuple[float, float, float]] = {}

    def copy(self, variance: float) -> Habits:
        """Return the same player with another spread (its variance in s^2)."""
        other = Habits()
        other.variance, other._strokes = variance, self._strokes
        other._loudness = dict(self._loudness)
        return other

    def surprise(self, voice: str, level: str, velocity: float) -> float:
        """Return the cost of a velocity where this level is written for this voice."""
        known = self._loudness.get((voice, level))
        mean, variance = known[:2] if known else (FIRST_LOUDNESS[level], FIRST_VARIANCE)
        return min(MOST_SURPRISE, 0.5 * (velocity - mean) ** 2 / variance)

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
            FIRST_VARIANCE,
            3.0,
        )
        strokes = min(strokes + 1.0, LOUDNESS_MEMORY)
        away = velocity - mean
        squared = min(away * away, 6.0 * variance)
        self._loudness[key] = (
            mean + away / strokes,
            max(LEAST_VARIANCE, variance + (squared - variance) / strokes),
            strokes,
        )
