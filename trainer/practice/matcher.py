"""Which hit was meant for which target, as the hits arrive."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.practice.outcomes import EXTRA, MISSED, PLAYED, RIM, Verdict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit
    from trainer.practice.course import Target

WINDOW_S = 0.050
"""How far a hit may lie from its target, in seconds."""


def hit_outcome(hit: Hit, target: Target) -> str:
    """Return the outcome of a hit on its own target's voice: `rim` where the head was written."""
    rim = hit.zone in ("rim", "cross-stick") and target.note.zone in ("", "head")
    return RIM if rim else PLAYED


class Matcher:
    """Takes targets and hits in time order and says what became of each."""

    def __init__(self) -> None:
        self._open: list[Target] = []

    def add_targets(self, targets: Sequence[Target]) -> None:
        """Hear of targets to come, in time order."""
        self._open += targets

    def cut(self, at_s: float) -> None:
        """Drop, unjudged, the targets due at or after a second (a pause, a restart)."""
        self._open = [target for target in self._open if target.time_s < at_s]

    def feed(self, hit: Hit) -> list[Verdict]:
        """Judge a hit: first its provisional verdict, then whatever became final."""
        near = [
            target
            for target in self._open[:64]
            if target.note.voice == hit.voice and abs(target.time_s - hit.time_s) <= WINDOW_S
        ]
        if hit.flag or not near:
            verdict = Verdict(hit.index, None, hit.flag or EXTRA, None, final=False)
        else:
            target = min(near, key=lambda one: abs(one.time_s - hit.time_s))
            self._open.remove(target)
            offset_s = hit.time_s - target.time_s
            outcome = hit_outcome(hit, target)
            verdict = Verdict(hit.index, target.index, outcome, offset_s, final=False)
        final = Verdict(verdict.hit, verdict.target, verdict.outcome, verdict.offset_s, final=True)
        return [verdict, final, *self.settle(hit.time_s)]

    def settle(self, now_s: float) -> list[Verdict]:
        """Return what became final by `now_s` (seconds on the session's clock)."""
        late = [target for target in self._open if target.time_s + WINDOW_S < now_s]
        self._open = self._open[len(late) :]
        return [Verdict(None, target.index, MISSED, None, final=True) for target in late]

    def finish(self) -> list[Verdict]:
        """Return everything still open as final: nothing more will come."""
        return self.settle(float("inf"))
