"""Online matching: which hit was meant for which target, at once and for good within a beat.

The hypotheses behind the verdicts are in `trainer.practice.follower`, the numbers that weigh them
in `trainer.practice.likelihood`. Here they become verdicts: the best hypothesis's view of a hit at
once (provisional), and the settled one (final) when no other hypothesis is left or the hit is a
beat old.

`judge` is the one path to the figures that are saved and shown, for live sessions, replay and
assessment alike: it follows a whole take of any length, and lets a hit wait until all hypotheses
agree. `LiveTake` does the same hit by hit and must decide within a beat.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from itertools import takewhile
from math import inf
from typing import TYPE_CHECKING, NamedTuple

from trainer.kit.hits import mark_early_crosstalk
from trainer.kit.model import HitReader
from trainer.kit.voices import CHOKE
from trainer.practice.follower import Follower
from trainer.practice.hypothesis import AS_BOUNCE, AS_DOUBLE, DueTarget, HeardHit, HeldBuzzes
from trainer.practice.outcomes import (
    BOUNCE,
    EXTRA,
    MISSED,
    PLAYED,
    WRONG_PAD,
    Judged,
    Verdict,
    hit_outcome,
)
from trainer.practice.outcomes import DOUBLE as DOUBLE_TRIGGER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit, Strike
    from trainer.kit.model import Kit
    from trainer.pattern.model import Pattern
    from trainer.practice.course import Course, Target


LONGEST_OPEN_S = 0.5
"""A hit is settled after a beat, or after this many seconds where the beat is longer."""

LATE_ARRIVAL_S = 0.030
"""A hit may be reported this long after its stamp; no target is given up sooner."""

MOST_UNSETTLED = 200
"""Hits that may wait for a better hypothesis in a whole take: far more than any doubt lasts."""

SETTLED_TOGETHER = 16
"""In a whole take so many hits are followed before looking which are settled: it saves time."""

MOST_KEPT = 64
"""So many targets that are judged are let go of at once."""


def due_target(target: Target) -> DueTarget:
    """Return what the follower needs to know of a target."""
    note = target.note
    voice = _pad(note.voice, note.zone)
    return DueTarget(target.time_s, voice, note.limb, note.level, note.grace)


def heard_hit(hit: Hit, time_s: float) -> HeardHit:
    """Return what the follower needs to know of a hit that is heard at a second."""
    voice = _pad(hit.voice, hit.zone) if hit.voice else None
    return HeardHit(time_s, voice, voice or hit.note, hit.velocity)


def _pad(voice: str, zone: str) -> str:
    """Return what the follower takes for a pad: a choke is none of its cymbal's strokes."""
    return f"{voice}/{zone}" if zone == CHOKE else voice


def unmatched_outcome(place: int) -> str:
    """Return the outcome of a hit that is for no target, as the follower calls it."""
    return {AS_DOUBLE: DOUBLE_TRIGGER, AS_BOUNCE: BOUNCE}.get(place, EXTRA)


def flagged_outcome(hit: Hit, held: HeldBuzzes) -> str:
    """Return the outcome of a hit that the kit's filter marked: in a buzz a double is a bounce."""
    bounces = hit.flag == DOUBLE_TRIGGER and held.holds(heard_hit(hit, hit.time_s))
    return BOUNCE if bounces else hit.flag


class OpenHit(NamedTuple):
    """A hit that is not settled yet, when it was heard, and what was said of it at once."""

    hit: Hit
    heard_s: float
    place: int


class Matcher:
    """Takes targets and hits in time order and says what became of each.

    `revised` counts hits whose final verdict was not the provisional one. What is settled is
    forgotten: `_targets` holds the targets from `_base` on, `_judged` is the first one not judged.
    """

    def __init__(self) -> None:
        self._follower = Follower()
        self._targets: list[Target] = []
        self._base = 0
        self._open: deque[OpenHit] = deque()
        self._judged = 0
        self._now_s = -inf
        self._beat_s = LONGEST_OPEN_S
        self.revised = 0

    def add_targets(self, targets: Sequence[Target]) -> None:
        """Take in targets to come (a pass), in time order."""
        for target in targets:
            self._targets.insert(
                self._follower.add(due_target(target), target.feel) - self._base, target
            )
        self._beat_s = min(LONGEST_OPEN_S, _quarter_s(targets))

    def cut(self, at_s: float) -> None:
        """Drop, unjudged, the targets due at or after a second (a pause, a restart)."""
        place = self._base + len(self._targets)
        while place > self._judged and self._targets[place - 1 - self._base].time_s >= at_s:
            place -= 1
        self._follower.drop(place)
        del self._targets[place - self._base :]

    def feed(self, hit: Hit) -> list[Verdict]:
        """Judge a hit: first its provisional verdict, then whatever became final."""
        if hit.flag:
            outcome = flagged_outcome(hit, self._follower.held)
            flagged = Verdict(hit.index, None, outcome, None, final=False)
            return [flagged, replace(flagged, final=True), *self.settle(hit.time_s)]
        self._now_s = max(self._now_s, hit.time_s)
        place = self._follower.hit(heard_hit(hit, self._now_s))
        self._open.append(OpenHit(hit, self._now_s, place))
        return [self._verdict(hit, place, final=False), *self._finals()]

    def settle(self, now_s: float) -> list[Verdict]:
        """Return what became final by `now_s` (seconds on the session's clock)."""
        self._now_s = max(self._now_s, now_s - LATE_ARRIVAL_S)
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
        old_s = self._now_s + LATE_ARRIVAL_S - self._beat_s
        return sum(1 for _ in takewhile(lambda one: one.heard_s <= old_s, self._open))

    def _missed(self) -> list[Verdict]:
        """Return the targets the best hypothesis has passed and no open hit may be for."""
        hypotheses, found = self._follower.hypotheses, []
        if self._judged >= hypotheses[0].first:
            return []
        old_s = self._now_s - self._beat_s
        claimed = {place for hypothesis in hypotheses for _, place in hypothesis.given}
        passed = min(hypothesis.first for hypothesis in hypotheses)
        while self._judged < hypotheses[0].first:
            target = self._targets[self._judged - self._base]
            if self._judged in claimed or (
                self._judged >= passed and target.time_s + hypotheses[0].lag.late_s > old_s
            ):
                break
            if not self._follower.dues.close(self._judged):
                found.append(Verdict(None, target.index, MISSED, None, final=True))
            self._judged += 1
        return found

    def _forget(self) -> None:
        """Let go of the targets that are judged, now and then."""
        if self._judged - self._base >= MOST_KEPT:
            kept = self._follower.forget(self._judged)
            del self._targets[: kept - self._base]
            self._base = kept

    def _verdict(self, hit: Hit, place: int, final: bool) -> Verdict:
        if place < 0:
            return Verdict(hit.index, None, unmatched_outcome(place), None, final)
        target = self._targets[place - self._base]
        offset_s = hit.time_s - target.time_s
        return Verdict(hit.index, target.index, hit_outcome(hit, target), offset_s, final)


def _quarter_s(targets: Sequence[Target]) -> float:
    """Return the length of a quarter note, from targets of one pass; endless where unknown."""
    main = [target for target in targets if not target.note.grace]
    main = [target for target in main if target.pass_index == main[0].pass_index]
    if not main or main[-1].note.beat <= main[0].note.beat:
        return inf
    beats = float(main[-1].note.beat - main[0].note.beat)
    return (main[-1].time_s - main[0].time_s) / beats


def voices_used(pattern: Pattern) -> frozenset[str]:
    """Return the voices a pattern is written on."""
    return frozenset(note.voice for note in pattern.notes)


def read_hits(pattern: Pattern, strikes: Sequence[Strike], kit: Kit) -> tuple[Hit, ...]:
    """Return the hits a take's strikes mean, in the same order."""
    reader = HitReader(kit, voices_used(pattern))
    return tuple(mark_early_crosstalk([reader.read(strike) for strike in strikes], kit.rules))


def match_take(
    targets: Sequence[Target], hits: Sequence[Hit]
) -> tuple[list[int | None], list[str], list[str]]:
    """Return, for a whole take: each hit's target or None, each hit's and each target's outcome.

    Targets and hits are named by their place in the sequences, which may come in any order of time.
    """
    due = sorted(range(len(targets)), key=lambda place: targets[place].time_s)
    heard = [place for place, hit in enumerate(hits) if not hit.flag]
    heard.sort(key=lambda place: hits[place].time_s)
    hit_target: list[int | None] = [None] * len(hits)
    held = HeldBuzzes()
    for one in targets:
        if one.until_s is not None:
            held.add(one.note.voice, one.time_s, one.until_s)
    hit_outcomes = [flagged_outcome(hit, held) for hit in hits]
    target_outcomes = [MISSED] * len(targets)
    meant = _followed([targets[place] for place in due], [hits[place] for place in heard])
    for hit, place in zip(heard, meant, strict=True):
        if place < 0:
            hit_outcomes[hit] = unmatched_outcome(place)
            continue
        hit_target[hit] = target = due[place]
        hit_outcomes[hit] = hit_outcome(hits[hit], targets[target])
        target_outcomes[target] = WRONG_PAD if hit_outcomes[hit] == WRONG_PAD else PLAYED
    return hit_target, hit_outcomes, target_outcomes


def _followed(targets: Sequence[Target], hits: Sequence[Hit]) -> list[int]:
    """Return what each hit was for, both in time order: the target's place or what it is alone."""
    follower = Follower()
    for target in targets:
        follower.add(due_target(target), target.feel)
    meant: list[int] = []
    for count, hit in enumerate(hits):
        follower.hit(heard_hit(hit, hit.time_s))
        if count % SETTLED_TOGETHER == 0:
            meant += follower.settle(max(0, follower.unsettled - MOST_UNSETTLED))
    follower.expire(inf)
    return meant + follower.settle(follower.unsettled)


def judge(course: Course, strikes: Sequence[Strike], kit: Kit) -> Judged:
    """Return every outcome of a take, strikes in the order they were received."""
    targets = course.targets()
    hits = read_hits(course.pattern, strikes, kit)
    hit_target, hit_outcome, target_outcome = match_take(targets, hits)
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
        """Take in the targets of a pass, before its first one is due."""
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
