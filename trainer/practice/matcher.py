"""Which hit was meant for which target, as the hits arrive: at once, and for good within a beat.

The stories behind the verdicts are in `trainer.practice.follower`, the numbers that weigh them in
`trainer.practice.likelihood`. Here they become verdicts: the best story's view of a hit at once
(provisional), and the settled one (final) when no other story is left or the hit is a beat old.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from itertools import takewhile
from math import inf
from typing import TYPE_CHECKING, NamedTuple

from trainer.practice.due_list import Due
from trainer.practice.follower import Blow, Follower
from trainer.practice.outcomes import DOUBLE as DOUBLE_TRIGGER
from trainer.practice.outcomes import EXTRA, MISSED, PLAYED, RIM, WRONG_PAD, Verdict
from trainer.practice.story import DOUBLE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit
    from trainer.practice.course import Target

LONGEST_OPEN_S = 0.5
"""A hit is settled after a beat, or after this many seconds where the beat is longer."""

LATE_NEWS_S = 0.030
"""A hit may be told this long after its stamp; no target is given up sooner."""

KEPT = 64
"""So many targets that are judged are let go of at once."""

RIMS = ("rim", "cross-stick")
"""Zones that are a touch gone wrong where the head was written."""


def due(target: Target) -> Due:
    """Return what the follower needs to know of a target."""
    note = target.note
    return Due(target.time_s, note.voice, note.limb, note.level)


def blow(hit: Hit, time_s: float) -> Blow:
    """Return what the follower needs to know of a hit that is heard at a second."""
    return Blow(time_s, hit.voice, hit.voice or hit.note, hit.velocity)


def hit_outcome(hit: Hit, target: Target) -> str:
    """Return the outcome of a hit that was meant for a target."""
    if hit.voice != target.note.voice:
        return WRONG_PAD
    rim = hit.zone in RIMS and target.note.zone in ("", "head")
    return RIM if rim else PLAYED


def lone_outcome(place: int) -> str:
    """Return the outcome of a hit that is for no target, as the follower calls it."""
    return DOUBLE_TRIGGER if place == DOUBLE else EXTRA


class Open(NamedTuple):
    """A hit that is not settled yet, when it was heard, and what was told of it at once."""

    hit: Hit
    heard_s: float
    place: int


class Matcher:
    """Takes targets and hits in time order and says what became of each.

    `revised` counts hits whose final verdict was not the provisional one. What is settled is
    forgotten: `_targets` holds the targets from `_base` on, `_told` is the first one not judged.
    """

    def __init__(self) -> None:
        self._follower = Follower()
        self._targets: list[Target] = []
        self._base = 0
        self._open: deque[Open] = deque()
        self._told = 0
        self._now_s = -inf
        self._beat_s = LONGEST_OPEN_S
        self.revised = 0

    def add_targets(self, targets: Sequence[Target]) -> None:
        """Hear of targets to come (a pass), in time order."""
        for target in targets:
            self._targets.insert(self._follower.add(due(target)) - self._base, target)
        self._beat_s = min(LONGEST_OPEN_S, _quarter_s(targets))

    def cut(self, at_s: float) -> None:
        """Drop, unjudged, the targets due at or after a second (a pause, a restart)."""
        place = self._base + len(self._targets)
        while place > self._told and self._targets[place - 1 - self._base].time_s >= at_s:
            place -= 1
        self._follower.drop(place)
        del self._targets[place - self._base :]

    def feed(self, hit: Hit) -> list[Verdict]:
        """Judge a hit: first its provisional verdict, then whatever became final."""
        if hit.flag:
            flagged = Verdict(hit.index, None, hit.flag, None, final=False)
            return [flagged, replace(flagged, final=True), *self.settle(hit.time_s)]
        self._now_s = max(self._now_s, hit.time_s)
        place = self._follower.hit(blow(hit, self._now_s))
        self._open.append(Open(hit, self._now_s, place))
        return [self._verdict(hit, place, final=False), *self._finals()]

    def settle(self, now_s: float) -> list[Verdict]:
        """Return what became final by `now_s` (seconds on the session's clock)."""
        self._now_s = max(self._now_s, now_s - LATE_NEWS_S)
        self._follower.expire(self._now_s)
        return self._finals()

    def finish(self) -> list[Verdict]:
        """Return everything still open as final: nothing more will come."""
        self._follower.expire(inf)
        self._now_s = inf
        return self._finals()

    def _finals(self) -> list[Verdict]:
        """Return the verdicts of hits that are settled, and of targets nothing can reach now."""
        found = []
        for place in self._follower.settle(self._due_hits()):
            hit, _, first_place = self._open.popleft()
            self.revised += place != first_place
            found.append(self._verdict(hit, place, final=True))
        found += self._missed()
        self._forget()
        return found

    def _due_hits(self) -> int:
        """Return how many hits may stay open no longer."""
        old_s = self._now_s + LATE_NEWS_S - self._beat_s
        return sum(1 for _ in takewhile(lambda one: one.heard_s <= old_s, self._open))

    def _missed(self) -> list[Verdict]:
        """Return the targets that the best story has passed and that no open hit may be for."""
        stories, found = self._follower.stories, []
        if self._told >= stories[0].first:
            return []
        old_s = self._now_s - self._beat_s
        claimed = {place for story in stories for _, place in story.given}
        passed = min(story.first for story in stories)
        while self._told < stories[0].first:
            target = self._targets[self._told - self._base]
            if self._told in claimed or (
                self._told >= passed and target.time_s + stories[0].lag.late_s > old_s
            ):
                break
            if not self._follower.dues.close(self._told):
                found.append(Verdict(None, target.index, MISSED, None, final=True))
            self._told += 1
        return found

    def _forget(self) -> None:
        """Let go of the targets that are told, now and then."""
        if self._told - self._base >= KEPT:
            kept = self._follower.forget(self._told)
            del self._targets[: kept - self._base]
            self._base = kept

    def _verdict(self, hit: Hit, place: int, final: bool) -> Verdict:
        if place < 0:
            return Verdict(hit.index, None, lone_outcome(place), None, final)
        target = self._targets[place - self._base]
        offset_s = hit.time_s - target.time_s
        return Verdict(hit.index, target.index, hit_outcome(hit, target), offset_s, final)


def _quarter_s(targets: Sequence[Target]) -> float:
    """Return the length of a quarter note, told from targets of one pass; endless where unknown."""
    main = [target for target in targets if not target.note.grace]
    main = [target for target in main if target.pass_index == main[0].pass_index]
    if not main or main[-1].note.beat <= main[0].note.beat:
        return inf
    beats = float(main[-1].note.beat - main[0].note.beat)
    return (main[-1].time_s - main[0].time_s) / beats
