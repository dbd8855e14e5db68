"""How long somebody has played without a break, and the word about it.

A stretch begins with a stroke and ends where none comes for BREAK_S. After LONG_S of it the player
is told once to rest: long repetition without rest is what hurts hands (common practice, no source;
so are both times).
"""

from __future__ import annotations

from trainer.practice.events import Notice

LONG_S = 30 * 60.0
BREAK_S = 120.0

REST = "Half an hour without a break: rest a few minutes, and stop when it hurts"


class Stretch:
    """Strokes go in by their times, in seconds; a notice comes out once a stretch."""

    def __init__(self) -> None:
        self._began_s = self._last_s = float("-inf")
        self._told = False

    def stroke(self, time_s: float) -> list[Notice]:
        """Hear of a stroke, whether or not it is judged."""
        if time_s - self._last_s >= BREAK_S:
            self._began_s = time_s
            self._told = False
        self._last_s = time_s
        if self._told or time_s - self._began_s < LONG_S:
            return []
        self._told = True
        return [Notice(REST, "warning")]
