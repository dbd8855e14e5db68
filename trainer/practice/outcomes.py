"""What became of each target and each hit: the words, one verdict, and a whole judged take.

Outcome of a target: played, wrong pad, missed. Outcome of a hit: played, wrong pad, extra, double
(a double trigger), rim (the rim where the head was written; its target counts as played, the rim
is told by the hit). A hit that the kit's filter marked keeps its mark as its outcome.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.kit.hits import Hit
    from trainer.practice.course import Course, Target

PLAYED = "played"
WRONG_PAD = "wrong pad"
MISSED = "missed"
EXTRA = "extra"
DOUBLE = "double"
RIM = "rim"
CROSSTALK = "crosstalk"

TARGET_OUTCOMES = (PLAYED, WRONG_PAD, MISSED)
HIT_OUTCOMES = (PLAYED, WRONG_PAD, EXTRA, DOUBLE, RIM, CROSSTALK)


@dataclass(frozen=True, slots=True)
class Verdict:
    """One statement about a hit and a target, at once (provisional) or for good (final).

    `hit` is None for a missed target; `target` is None for an extra or a double. `offset_s` is hit
    time minus target time (minus is early), None without a pair. `outcome` is the hit's outcome, or
    `missed`.
    """

    hit: int | None
    target: int | None
    outcome: str
    offset_s: float | None
    final: bool


@dataclass(frozen=True, slots=True)
class Judged:
    """A take with every outcome settled. Tuples run parallel to `targets` and to `hits`."""

    course: Course
    targets: tuple[Target, ...]
    hits: tuple[Hit, ...]
    target_outcome: tuple[str, ...]
    target_hit: tuple[int | None, ...]
    hit_outcome: tuple[str, ...]
    hit_target: tuple[int | None, ...]

    def offset_s(self, target: int) -> float | None:
        """Hit time minus target time in seconds (minus is early), None for a missed target."""
        hit = self.target_hit[target]
        return None if hit is None else self.hits[hit].time_s - self.targets[target].time_s
