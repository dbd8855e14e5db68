"""How hard a stroke was, alike on every pad: velocity through the pad's own curve.

Pads and zones answer differently: one gives 60 for a stroke that another calls 90. A curve holds
what a pad sent for soft, normal and hard strokes; power maps these onto the reference velocities
and straight lines between them, so that equal strokes read equal on all pads. Without a curve power
is the velocity itself. Power runs from 0 to 127 like velocity.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

REFERENCE = (40.0, 80.0, 115.0)
"""What a soft, a normal and a hard stroke are worth. Our own choice; only differences matter."""

LOUDEST = 127.0


@dataclass(frozen=True, slots=True)
class PowerCurve:
    """The velocities one pad sends for soft, normal and hard strokes, rising."""

    soft: float
    normal: float
    hard: float

    def power(self, velocity: float) -> float:
        """Return the power of a velocity (both 0 to 127)."""
        sent = (0.0, self.soft, self.normal, self.hard, max(LOUDEST, self.hard + 1.0))
        worth = (0.0, *REFERENCE, LOUDEST)
        place = min(max(bisect_right(sent, velocity), 1), len(sent) - 1)
        low, high = sent[place - 1], sent[place]
        share = (velocity - low) / (high - low)
        return worth[place - 1] + share * (worth[place] - worth[place - 1])
