"""Follows a player through the targets with the few best hypotheses of what each hit was meant for.

A hypothesis says, for every hit so far, which target it was for or that it was for none, which
targets are still open, and how late the player is by that account. Each new hit continues every
hypothesis in every likely way; of hypotheses that agree on what is open only the best continues,
and those far behind the best are dropped. What all remaining hypotheses agree on is settled.

Online and offline are this one class: online sets a limit to how long a hit may stay unsettled.
Time and memory a hit do not grow with the take. Many hypotheses share their lag, and from one lag
a hit fits the targets near it alike in all of them: that is worked out once a lag, and only the
best continuations are made into hypotheses.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from math import inf, sqrt
from typing import TYPE_CHECKING, NamedTuple

from trainer.practice import likelihood as like
from trainer.practice.hypothesis import (
    AS_DOUBLE,
    AS_STRAY,
    MOST_OPEN,
    DueList,
    DueTarget,
    Hypothesis,
    Lag,
    agreed_until,
    given_from,
    skip_closed,
    without_targets,
)
from trainer.practice.likelihood import PlayerModel

if TYPE_CHECKING:
    from collections.abc import Hashable

MOST_HYPOTHESES = 8
"""Stories that go on: more of them make no take of tests/bench/bench_matcher.py come out better."""

FAR_BEHIND = 11.0
"""Stories this much (in natural log units) behind the best are dropped."""

COST_ROUNDING = 1e-6
"""Costs added up in another order differ by less."""

ALONE = -1
"""Stands for the target in a way on where the hit is for none."""


class HeardHit(NamedTuple):
    """What the follower needs to know of a hit.

    `pad` is whatever tells pads apart, also those without a voice.
    """

    time_s: float
    voice: str | None
    pad: Hashable
    velocity: float


TargetFit = tuple[int, float, float, float]
"""A target within reach of a hit, and what the hit costs for it: pad, loudness and time."""

Continuation = tuple[float, int, int, Hypothesis, TargetFit | None]
"""A way on from a story: its cost, the first open target and the rest, and the target meant."""


class ReachableTargets:
    """What may be meant at a moment, seen from one lag.

    `doubt` is the lag's variance by now (s^2), infinite where the player's place is lost; targets
    due from `low_s` to `high_s` are within reach. `fits` are those that a hit may be for.
    """

    __slots__ = ("doubt", "fits", "high_s", "late_s", "low_s")

    def __init__(self, lag: Lag, lost: bool, now_s: float, variance: float) -> None:
        self.late_s, self.doubt, seen_s = lag
        self.fits: list[TargetFit] | None = None
        if lost or self.doubt == inf:
            self.doubt, reach = inf, like.LAG_RANGE_S
        else:
            self.doubt += like.LAG_WANDER * min(max(0.0, now_s - seen_s), like.LONGEST_SILENCE_S)
            reach = like.REACH * sqrt(self.doubt + variance)
        here_s = now_s - self.late_s
        self.low_s, self.high_s = here_s - reach, here_s + reach


class Moment:
    """A hit, or only the time: what may be meant, from every lag that the stories have."""

    def __init__(self, now_s: float, variance: float) -> None:
        self.now_s, self.variance = now_s, variance
        self._sights: dict[tuple[Lag, bool], ReachableTargets] = {}

    def sight(self, lag: Lag, slips: int) -> ReachableTargets:
        """Return what may be meant, seen from a story's lag after so many slips."""
        key = lag, slips >= like.SLIPS
        found = self._sights.get(key)
        if found is None:
            found = self._sights[key] = ReachableTargets(lag, key[1], self.now_s, self.variance)
        return found


class Follower:
    """The stories about one player. Targets and hits are counted from 0 as they come.

    Of a player met before, the habits and the lag (s, with its variance) may be given.
    """

    def __init__(
        self, habits: PlayerModel | None = None, lag_s: float | None = None, doubt: float = inf
    ) -> None:
        # Whoever is met in the middle of a take left out what was due before.
        slips = like.SLIPS if lag_s is not None and doubt == inf else 0
        self.stories = [Hypothesis(0.0, 0, 0, Lag(lag_s or 0.0, doubt, inf), slips, ())]
        self.habits = habits or PlayerModel()
        self.dues = DueList()
        self._met = lag_s is not None
        self._last: dict[Hashable, HeardHit] = {}
        self._settled = 0
        self._alone: deque[int] = deque()

    @property
    def unsettled(self) -> int:
        """How many hits are not settled yet."""
        return len(self._alone)

    def add(self, due: DueTarget) -> int:
        """Take a target in, by time as far as no story has looked past it; return its place."""
        seen = max(story.first + story.taken.bit_length() for story in self.stories)
        return self.dues.add(due, seen)

    def drop(self, place: int) -> None:
        """Forget the targets from a place on; hits for them are for none."""
        self.dues.drop(place)
        self.stories = sorted(without_targets(story, place) for story in self.stories)

    def forget(self, place: int) -> int:
        """Forget the targets before a place that no story needs; return the first one kept."""
        for story in self.stories:
            place = min(place, story.first, *(one for _, one in story.given))
        self.dues.forget(max(place, self.dues.base))
        return self.dues.base

    def remember(self, blow: HeardHit) -> None:
        """Hear of a hit before the first one, so that its double trigger is known."""
        self._last[blow.pad] = blow

    def expire(self, now_s: float) -> None:
        """Give up the targets that can no longer be meant by a hit stamped `now_s` or later."""
        moment = Moment(now_s, self.habits.variance)
        self.stories = sorted(self._expired(story, moment) for story in self.stories)

    def hit(self, blow: HeardHit) -> int:
        """Go on with a hit; return what the best story says it is for."""
        moment = Moment(blow.time_s, self.habits.variance)
        alone, why = self._by_itself(blow)
        self._alone.append(why)
        stories = [self._expired(story, moment) for story in self.stories]
        ways: dict[tuple[int, int], Continuation] = {}
        for story in stories:
            _keep_cheaper(ways, (story.cost + alone, story.first, story.taken, story, None))
        self._meant(blow, moment, stories, ways)
        best = sorted(ways.values())[:MOST_HYPOTHESES]
        far = best[0][0] + FAR_BEHIND
        self.stories = [self._gone_on(way, moment, why) for way in best if way[0] <= far]
        fit = best[0][4]
        if fit is None:
            return why
        self._learn(fit[0], blow)
        return fit[0]

    def settle(self, least: int = 0) -> list[int]:
        """Return what hits were for, oldest first, as far as all stories agree.

        At least so many are told; where stories do not agree, the best one decides. Should another
        turn out better afterwards, what was told stands, and no target is given twice.
        """
        end = self._settled + len(self._alone)
        until = agreed_until(self.stories, self._settled + least, end)
        if until == self._settled:
            return []
        meant = dict(self.stories[0].given)
        alone = self._alone
        found = [meant.get(hit, alone.popleft()) for hit in range(self._settled, until)]
        self._settled = until
        if any(one.given and one.given[0][0] < until for one in self.stories):
            self.stories = [Hypothesis(*one[:5], given_from(one, until)) for one in self.stories]
        return [AS_STRAY if place >= 0 and self.dues.close(place) else place for place in found]

    def _by_itself(self, blow: HeardHit) -> tuple[float, int]:
        """Return the cost of a hit that is for no target, and whether as a stray or a double."""
        before = self._last.get(blow.pad)
        self._last[blow.pad] = blow
        if before is not None:
            again = like.double_cost(blow.time_s - before.time_s, blow.velocity, before.velocity)
            if again < like.STRAY_COST:
                return again, AS_DOUBLE
        times = self.dues.times
        if not self._met and times and blow.time_s < times[0]:
            return like.RUN_IN_COST, AS_STRAY
        return like.STRAY_COST, AS_STRAY

    def _expired(self, story: Hypothesis, moment: Moment) -> Hypothesis:
        """Charge the targets that are out of reach as missed."""
        cost, first, taken, lag, slips, given = story
        times, base, end = self.dues.times, self.dues.base, self.dues.end
        if first >= end:
            return story
        limit = moment.sight(lag, slips).low_s
        if times[first - base] >= limit:
            return story
        while first < end and (taken & 1 or times[first - base] < limit):
            if not taken & 1:
                cost += like.miss_cost(slips)
                slips += 1
                if slips == like.SLIPS:
                    limit = moment.now_s - lag.late_s - like.LAG_RANGE_S
            taken >>= 1
            first += 1
        return Hypothesis(cost, first, taken, lag, slips, given)

    def _meant(
        self,
        blow: HeardHit,
        moment: Moment,
        stories: list[Hypothesis],
        ways: dict[tuple[int, int], Continuation],
    ) -> None:
        """Add the ways in which a hit is for a target, as far as they may be among the best."""
        costs = [way[0] for way in ways.values()]
        most = min(costs) + FAR_BEHIND
        if len(costs) == MOST_HYPOTHESES:
            most = min(most, max(costs))
        firsts = [story.first for story in stories]
        lowest, highest = min(firsts), max(firsts)
        cheapest = min(story.cost for story in stories) - COST_ROUNDING
        for story in stories:
            sight = moment.sight(story.lag, story.slips)
            if sight.fits is None:
                sight.fits = self._fits(blow, sight, lowest, highest, most - cheapest)
            cost, first, taken, _, slips, _ = story
            for fit in sight.fits:
                place, pad, loudness, time = fit
                ahead = place - first
                total = cost + pad + loudness + time
                if total > most or ahead < 0 or ahead >= MOST_OPEN or taken >> ahead & 1:
                    continue
                left = taken | 1 << ahead
                if ahead:
                    # Earlier open targets of the same drum or limb can no longer come.
                    skipped = self.dues.kin(place, lowest) >> MOST_OPEN - ahead & ~taken
                    total += like.miss_cost(slips) * skipped.bit_count()
                    left |= skipped
                _keep_cheaper(ways, (total, *skip_closed(first, left), story, fit))
                most = min(most, total + FAR_BEHIND)

    def _fits(
        self, blow: HeardHit, sight: ReachableTargets, lowest: int, highest: int, budget: float
    ) -> list[TargetFit]:
        """Return the targets a hit may be for at no more cost than the budget."""
        time_s, voice, _, velocity = blow
        dues, habits, late_s = self.dues, self.habits, sight.late_s
        lost, variance = sight.doubt == inf, sight.doubt + habits.variance
        low_s, high_s = sight.low_s, sight.high_s
        if lost and voice not in dues.voices:
            here_s = time_s - late_s
            low_s, high_s = here_s - like.LOST_PAD_S, here_s + like.LOST_PAD_S
        start = max(lowest - dues.base, bisect_left(dues.times, low_s))
        end = min(highest + MOST_OPEN - dues.base, bisect_right(dues.times, high_s))
        found: list[TargetFit] = []
        for at in range(start, end):
            due = dues.due[at]
            offset = time_s - due.time_s
            if lost and due.voice != voice and abs(offset - late_s) > like.LOST_PAD_S:
                continue
            pad = like.pad_cost(voice, due.voice)
            if pad + like.BEST_FIT > budget:
                continue
            if lost:
                time = like.first_lag_cost(offset, late_s if self._met else None)
            else:
                time = like.offset_cost(offset - late_s, variance)
            if pad + time <= budget:
                loudness = habits.surprise(due.voice, due.level, velocity)
                found.append((dues.base + at, pad, loudness, time))
        return found

    def _gone_on(self, way: Continuation, moment: Moment, why: int) -> Hypothesis:
        """Return the story that a way leads to."""
        cost, first, taken, story, fit = way
        _, _, _, lag, slips, given = story
        if fit is None:
            return Hypothesis(cost, first, taken, lag, slips + (why == AS_STRAY), given)
        place, pad, _, _ = fit
        doubt, variance = moment.sight(lag, slips).doubt, moment.variance
        offset = moment.now_s - self.dues.times[place - self.dues.base]
        if doubt == inf:
            # A stroke on another pad does not show where the player is.
            lag = lag if pad else Lag(offset, variance, moment.now_s)
        else:
            late_s = lag.late_s + doubt / (doubt + variance) * (offset - lag.late_s)
            lag = Lag(late_s, doubt * (variance / (doubt + variance)), moment.now_s)
        slips = slips + like.WRONG_SLIPS if pad else max(0, min(like.SLIPS, slips) - 1)
        hit = self._settled + len(self._alone) - 1
        return Hypothesis(cost, first, taken, lag, slips, (*given, (hit, place)))

    def _learn(self, place: int, blow: HeardHit) -> None:
        """Let the best story's account of the newest hit tell what the player is like."""
        best = self.stories[0]
        self._met = True
        due = self.dues.due[place - self.dues.base]
        self.habits.learn_time(blow.time_s - due.time_s - best.lag.late_s, best.lag.doubt)
        if best.slips == 0:
            self.habits.learn_loudness(due.voice, due.level, blow.velocity)


def _keep_cheaper(ways: dict[tuple[int, int], Continuation], way: Continuation) -> None:
    """Keep the better of two ways that leave the same targets open."""
    key = way[1], way[2]
    other = ways.get(key)
    if other is None or way[0] < other[0]:
        ways[key] = way
