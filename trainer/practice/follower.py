"""Follows a player through the targets: the few best stories of what each hit was meant for.

A story says, for every hit so far, which target it was for or that it was for none, which targets
are still open, and where the player's lag stands by that account. Each new hit continues every
story in every likely way; of stories that agree on what is open only the best goes on, and stories
far behind the best are dropped. What all remaining stories agree on is settled for good.

Online and offline are this one class: online sets a limit to how long a hit may stay unsettled.
Time and memory a hit do not grow with the take.
"""

from __future__ import annotations

from bisect import bisect_right
from math import inf, sqrt
from typing import TYPE_CHECKING, NamedTuple

from trainer.practice import likelihood as like
from trainer.practice.habits import Habits

if TYPE_CHECKING:
    from collections.abc import Hashable

STRAY, DOUBLE = -1, -2
"""What a hit without a target is, in a story's trail."""

MOST_STORIES = 24
FAR_BEHIND = 11.0
"""Stories this much (in natural log units) behind the best are dropped."""

MOST_OPEN = 48
"""Open targets looked at for one hit: bounds the time where hundreds are due at once."""


class Due(NamedTuple):
    """What the follower needs to know of a target."""

    time_s: float
    voice: str
    limb: str | None
    level: str


class Blow(NamedTuple):
    """What the follower needs to know of a hit.

    `pad` is whatever tells pads apart, also those without a voice.
    """

    time_s: float
    voice: str | None
    pad: Hashable
    velocity: float


class Story(NamedTuple):
    """One account of the take so far.

    `first` is the first open target, `taken` has a bit for each later one that is not open (bit 0
    is `first`), `lag` and `doubt` are the player's lag (s) and its variance at `seen_s`, `slips`
    counts strokes that fitted badly in a row, `trail` has what each unsettled hit was for.
    """

    cost: float
    first: int
    taken: int
    lag: float
    doubt: float
    seen_s: float
    slips: int
    trail: tuple[int, ...]


class Follower:
    """The stories about one player. Targets and hits are counted from 0 as they come.

    Of a player met before, the habits and the lag (s, with its variance) may be given.
    """

    def __init__(
        self, habits: Habits | None = None, lag_s: float | None = None, doubt: float = inf
    ) -> None:
        self.due: list[Due] = []
        self.closed = bytearray()
        # Whoever is met in the middle of a take left out what was due before.
        slips = like.SLIPS if lag_s is not None and doubt == inf else 0
        self.stories = [Story(0.0, 0, 0, lag_s or 0.0, doubt, inf, slips, ())]
        self.habits = habits or Habits()
        self._met = lag_s is not None
        self._last: dict[Hashable, Blow] = {}

    def add(self, due: Due) -> int:
        """Take a target in, by time as far as no story has looked past it; return its place."""
        seen = max(story.first + story.taken.bit_length() for story in self.stories)
        place = max(bisect_right(self.due, due.time_s, key=_time), seen)
        self.due.insert(place, due)
        self.closed.insert(place, False)
        return place

    def hit(self, blow: Blow) -> None:
        """Go on with a hit."""
        time_s, voice, _, velocity = blow
        alone, why = self._alone(blow)
        found: dict[tuple[int, int], Story] = {}
        bound = inf
        for old in self.stories:
            story = self._expired(old, time_s)
            doubt = self._doubt(story, time_s)
            for target in self._within(story, time_s, doubt):
                wrong = like.pad(voice, self.due[target].voice)
                if story.cost + wrong + like.BEST_FIT <= bound + FAR_BEHIND:
                    told = self._matched(story, target, time_s, doubt, wrong, velocity)
                    bound = _keep(found, bound, told)
            if story.cost + alone <= bound + FAR_BEHIND:
                bound = _keep(found, bound, _unmatched(story, alone, why))
        stories = sorted(one for one in found.values() if one.cost <= bound + FAR_BEHIND)
        self.stories = stories[:MOST_STORIES]
        self._learn(time_s, velocity)

    def remember(self, blow: Blow) -> None:
        """Hear of a hit before the first one, so that its double trigger is known."""
        self._last[blow.pad] = blow

    def expire(self, now_s: float) -> None:
        """Give up the targets that can no longer be meant by a hit stamped `now_s` or later."""
        self.stories = sorted(self._expired(story, now_s) for story in self.stories)

    def settle(self, unsettled: int) -> list[int]:
        """Return what hits were for, oldest first, as far as all stories agree.

        At most `unsettled` hits are left open: beyond that the best story decides. Should another
        story turn out better afterwards, what was told stands, and no target is given twice.
        """
        best = self.stories[0].trail
        count = max(0, len(best) - unsettled)
        others = [one.trail for one in self.stories[1:]]
        while count < len(best) and all(trail[count] == best[count] for trail in others):
            count += 1
        if count:
            self.stories = [Story(*one[:7], one.trail[count:]) for one in self.stories]
        return [STRAY if place >= 0 and self.close(place) else place for place in best[:count]]

    def close(self, place: int) -> bool:
        """Close a target, given or missed; return whether it was closed before."""
        was = bool(self.closed[place])
        self.closed[place] = True
        return was

    def drop(self, place: int) -> None:
        """Forget the targets from a place on; hits that were for them become strays."""
        del self.due[place:], self.closed[place:]
        self.stories = sorted(_without(story, place) for story in self.stories)

    def _alone(self, blow: Blow) -> tuple[float, int]:
        """Return the cost of a hit that is for no target, and whether as a stray or a double."""
        before = self._last.get(blow.pad)
        self._last[blow.pad] = blow
        if before is not None:
            again = like.double(blow.time_s - before.time_s, blow.velocity, before.velocity)
            if again < like.STRAY:
                return again, DOUBLE
        return like.STRAY, STRAY

    def _doubt(self, story: Story, time_s: float) -> float:
        """Return the lag's variance by now (s^2), infinite where the player's place is lost."""
        if story.doubt == inf or story.slips >= like.SLIPS:
            return inf
        since_s = min(max(0.0, time_s - story.seen_s), like.LONG_S)
        return story.doubt + like.WANDER * since_s

    def _reach(self, doubt: float) -> float:
        """Return how far from its expected time a hit may lie, in seconds."""
        if doubt == inf:
            return like.FAR_S
        return like.REACH * sqrt(doubt + self.habits.variance)

    def _expired(self, story: Story, now_s: float) -> Story:
        """Charge the targets that are out of reach as missed."""
        first, count = story.first, len(self.due)
        if first >= count:
            return story
        limit = now_s - story.lag - self._reach(self._doubt(story, now_s))
        if self.due[first].time_s >= limit:
            return story
        cost, taken, slips = story.cost, story.taken, story.slips
        while first < count and (taken & 1 or self.due[first].time_s < limit):
            if not taken & 1:
                cost += like.miss(slips)
                slips += 1
                if slips == like.SLIPS:
                    limit = now_s - story.lag - like.FAR_S
            taken >>= 1
            first += 1
        return Story(cost, first, taken, story.lag, story.doubt, story.seen_s, slips, story.trail)

    def _within(self, story: Story, time_s: float, doubt: float) -> list[int]:
        """Return the open targets a hit may be for."""
        limit = time_s - story.lag + self._reach(doubt)
        due, taken, target = self.due, story.taken, story.first
        end = min(len(due), target + MOST_OPEN)
        found = []
        while target < end and due[target].time_s <= limit:
            if not taken & 1:
                found.append(target)
            taken >>= 1
            target += 1
        return found

    def _matched(
        self, story: Story, target: int, time_s: float, doubt: float, wrong: float, velocity: float
    ) -> Story:
        """Continue a story with the hit meant for a target; `wrong` is the cost of its pad."""
        due, variance = self.due[target], self.habits.variance
        cost = story.cost + wrong + self.habits.surprise(due.voice, due.level, velocity)
        offset, lag = time_s - due.time_s, story.lag
        if doubt == inf:
            cost += like.first_lag(offset, lag if self._met else None)
            lag, doubt = offset, variance
        else:
            cost += like.normal(offset - lag, doubt + variance)
            lag += doubt / (doubt + variance) * (offset - lag)
            doubt *= variance / (doubt + variance)
        first, taken = story.first, story.taken | (1 << (target - story.first))
        if target > first and (skipped := self._skipped(story, target)):
            taken |= skipped
            cost += like.miss(story.slips) * skipped.bit_count()
        while taken & 1:
            taken >>= 1
            first += 1
        slips = (
            story.slips + like.WRONG_SLIPS if wrong else max(0, min(like.SLIPS, story.slips) - 1)
        )
        return Story(cost, first, taken, lag, doubt, time_s, slips, (*story.trail, target))

    def _skipped(self, story: Story, target: int) -> int:
        """Return the earlier open targets of the same drum or limb: they can no longer come."""
        _, voice, limb, _ = self.due[target]
        taken, bit, skipped = story.taken, 1, 0
        for place in range(story.first, target):
            if not taken & bit:
                other = self.due[place]
                if other.voice == voice or (limb is not None and other.limb == limb):
                    skipped |= bit
            bit <<= 1
        return skipped

    def _learn(self, time_s: float, velocity: float) -> None:
        """Let the best story's account of the newest hit tell what the player is like."""
        best = self.stories[0]
        target = best.trail[-1]
        if target < 0:
            return
        self._met = True
        due = self.due[target]
        self.habits.learn_time(time_s - due.time_s - best.lag, best.doubt)
        if best.slips == 0:
            self.habits.learn_loudness(due.voice, due.level, velocity)


def _time(due: Due) -> float:
    return due.time_s


def _unmatched(story: Story, cost: float, why: int) -> Story:
    """Continue a story with a hit for no target."""
    total, first, taken, lag, doubt, seen_s, slips, trail = story
    slips += why == STRAY
    return Story(total + cost, first, taken, lag, doubt, seen_s, slips, (*trail, why))


def _keep(found: dict[tuple[int, int], Story], bound: float, story: Story) -> float:
    """Keep the better of two stories that leave the same targets open; return the least cost."""
    key = (story.first, story.taken)
    other = found.get(key)
    if other is None or story.cost < other.cost:
        found[key] = story
    return story.cost if story.cost < bound else bound


def _without(story: Story, place: int) -> Story:
    """Return a story that has never heard of the targets from a place on."""
    lost = sum(target >= place for target in story.trail)
    trail = tuple(STRAY if target >= place else target for target in story.trail)
    taken = story.taken & ((1 << max(0, place - story.first)) - 1)
    first = min(story.first, place)
    while taken & 1:
        taken >>= 1
        first += 1
    return Story(story.cost + lost * like.STRAY, first, taken, *story[3:7], trail)
