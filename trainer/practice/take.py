"""A whole take or a live one: strikes read through the kit and matched with the course.

`judge` is the one path to the figures that are saved and shown, for live sessions, replay and
scoring alike; `LiveTake` gives the same matching hit by hit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.hit_filter import look_again
from trainer.kit.note_map import HitReader
from trainer.practice.matcher import Matcher
from trainer.practice.outcomes import Judged

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit, Strike
    from trainer.kit.note_map import Kit
    from trainer.pattern.model import Pattern
    from trainer.practice.course import Course, Target
    from trainer.practice.outcomes import Verdict


def voices_used(pattern: Pattern) -> frozenset[str]:
    """Return the voices a pattern is written on."""
    return frozenset(note.voice for note in pattern.notes)


def read_hits(pattern: Pattern, strikes: Sequence[Strike], kit: Kit) -> tuple[Hit, ...]:
    """Return the hits a take's strikes stand for, in the same order."""
    reader = HitReader(kit, voices_used(pattern))
    return tuple(look_again([reader.read(strike) for strike in strikes], kit.rules))


def judge(course: Course, strikes: Sequence[Strike], kit: Kit) -> Judged:
    """Return every outcome of a take, strikes in the order they were received."""
    from trainer.practice.offline import match

    targets = course.targets()
    hits = read_hits(course.pattern, strikes, kit)
    hit_target, hit_outcome, target_outcome = match(targets, hits)
    target_hit: list[int | None] = [None] * len(targets)
    for hit, target in enumerate(hit_target):
        if target is not None:
            target_hit[target] = hit
    return Judged(
        course,
        targets,
        hits,
        tuple(target_outcome),
        tuple(target_hit),
        tuple(hit_outcome),
        tuple(hit_target),
    )


class LiveTake:
    """A take in the making: strikes in, hits and verdicts out."""

    def __init__(self, kit: Kit, pattern: Pattern) -> None:
        self._reader = HitReader(kit, voices_used(pattern))
        self._matcher = Matcher()

    def begin(self, targets: Sequence[Target]) -> None:
        """Hear of the targets of a pass, before its first one is due."""
        self._matcher.add_targets(targets)

    def cut(self, at_s: float) -> None:
        """Drop the targets due at or after a second: they will not be judged."""
        self._matcher.cut(at_s)

    def strike(self, strike: Strike) -> tuple[Hit, list[Verdict]]:
        """Read and judge one strike: its hit, its provisional verdict, then any finals."""
        hit = self._reader.read(strike)
        return hit, self._matcher.feed(hit)

    def settle(self, now_s: float) -> list[Verdict]:
        """Return what became final by `now_s`: of a late kit, what it had sent by then."""
        return self._matcher.settle(now_s - self._reader.kit.latency_s)

    def finish(self) -> list[Verdict]:
        """Return everything still open as final."""
        return self._matcher.finish()
