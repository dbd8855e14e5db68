"""Counts that grow as verdicts settle: for the session so far, for a pass, for a bar."""

from __future__ import annotations

from collections import Counter
from math import sqrt
from typing import TYPE_CHECKING

from trainer.practice.events import BarEnded, Tally
from trainer.practice.outcomes import DOUBLE, EXTRA, MISSED, PLAYED, RIM, WRONG_PAD
from trainer.practice.zones import RIMS_FOR_HEADS, instead

if TYPE_CHECKING:
    from trainer.kit.hits import Hit
    from trainer.pattern.model import Note
    from trainer.practice.course import Target
    from trainer.practice.outcomes import Verdict


class Counts:
    """Outcomes counted, and the mean and spread of the offsets of main strokes (seconds).

    The spread is the standard deviation of the sample (n - 1). A rim hit counts as `rim` and its
    target as played; `played` counts targets.
    """

    def __init__(self) -> None:
        self.outcomes: Counter[str] = Counter()
        self.missed: Counter[str] = Counter()
        self.wrong: Counter[str] = Counter()
        self.zones: Counter[str] = Counter()
        self.offsets = 0
        self.mean = 0.0
        self._squares = 0.0

    def add(self, verdict: Verdict, target: Target | None) -> None:
        """Count one final verdict; `target` is the one it names."""
        self.outcomes[verdict.outcome] += 1
        if target is None:
            return
        if verdict.outcome == MISSED:
            self.missed[target.note.voice] += 1
        elif verdict.outcome == WRONG_PAD:
            self.wrong[target.note.voice] += 1
        elif verdict.offset_s is not None and target.note.grace == 0:
            self._add_offset(verdict.offset_s)

    def add_zone(self, note: Note, hit: Hit) -> None:
        """Count a hit on the pad of its note that fell on another zone than is written."""
        other = instead(note, hit)
        if other and other not in RIMS_FOR_HEADS:
            self.zones[other] += 1

    def take_back(self, target: Target) -> None:
        """Forget that a target was missed (its pass was cut off before it)."""
        self.outcomes[MISSED] -= 1
        self.missed[target.note.voice] -= 1

    def _add_offset(self, offset_s: float) -> None:
        self.offsets += 1
        step = offset_s - self.mean
        self.mean += step / self.offsets
        self._squares += step * (offset_s - self.mean)

    @property
    def played(self) -> int:
        """Targets played on the right pad, on its rim too."""
        return self.outcomes[PLAYED] + self.outcomes[RIM]

    @property
    def faults(self) -> int:
        """Strokes missed, misplaced or not asked for; double triggers are the kit's."""
        return sum(self.outcomes[one] for one in (MISSED, WRONG_PAD, EXTRA, RIM))

    @property
    def offset_mean_s(self) -> float | None:
        """Mean offset, None before the first one."""
        return self.mean if self.offsets else None

    @property
    def offset_spread_s(self) -> float | None:
        """Standard deviation of the offsets, None for fewer than two."""
        return sqrt(self._squares / (self.offsets - 1)) if self.offsets > 1 else None

    def tally(self) -> Tally:
        """Return the counts as the event a screen draws."""
        outcomes = self.outcomes
        return Tally(
            self.played,
            outcomes[WRONG_PAD],
            outcomes[MISSED],
            outcomes[EXTRA],
            outcomes[DOUBLE],
            outcomes[RIM],
            self.offset_mean_s,
            self.offset_spread_s,
        )

    def bar_ended(self, pass_index: int, bar: int, targets: int) -> BarEnded:
        """Return the counts as the event that ends a bar."""
        outcomes = self.outcomes
        return BarEnded(
            pass_index,
            bar,
            targets,
            self.played,
            outcomes[EXTRA],
            outcomes[DOUBLE],
            outcomes[RIM],
            {voice: count for voice, count in self.missed.items() if count},
            {voice: count for voice, count in self.wrong.items() if count},
            self.offset_mean_s,
            self.offset_spread_s,
            dict(self.zones),
        )
