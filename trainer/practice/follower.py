"""Follows a player through the targets with the few best hypotheses of what each hit was meant for.

A hypothesis says, for every hit so far, which target it was for or that it was for none, which
targets are still open, and how late the player is by that account. Each new hit continues every
hypothesis in every likely way; of hypotheses that agree on what is open only the best continues,
and those far behind the best are dropped. What all remaining hypotheses agree on is settled.

Why not simply the nearest target? At speed the next stroke on the same drum is as near as a late
player is late, and one missed stroke would shift all that follow. Only the strokes after it show
what was meant, so a decision waits while the alternatives are alive.

Live and whole takes use this one class: live sets a limit to how long a hit may stay unsettled.
Time and memory a hit do not grow with the take. Many hypotheses share their lag, and from one lag
a hit fits the targets near it alike in all of them: that is worked out once a lag, and only the
best continuations are made into hypotheses.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import deque
from math import inf
from typing import TYPE_CHECKING

from trainer.practice import likelihood as like
from trainer.practice.hypothesis import (
    AS_BOUNCE,
    AS_DOUBLE,
    AS_STRAY,
    MOST_OPEN,
    DueList,
    DueTarget,
    HeardHit,
    HeldBuzzes,
    Hypothesis,
    Lag,
    Moment,
    ReachableTargets,
    TargetFit,
    agreed_until,
    given_from,
    skip_closed,
    without_targets,
)
from trainer.practice.likelihood import PlayerModel

if TYPE_CHECKING:
    from collections.abc import Hashable

    from trainer.practice.course import TargetFeel
    from trainer.practice.hypothesis import Given

MOST_HYPOTHESES = 8
"""Hypotheses that continue: fewer lose strokes in takes of tests/bench/bench_matcher.py, more of
them gain none."""

FAR_BEHIND = 11.0
"""Hypotheses this much (in natural log units) behind the best are dropped."""

MOST_AT_ONCE = 8
"""So many of the last hits are looked at for one that came within milliseconds."""

COST_ROUNDING = 1e-6
"""Costs added up in another order differ by less."""


Continuation = tuple[float, int, int, Hypothesis, TargetFit | None]
"""How a hypothesis may continue: at which cost, with which first open target, which later ones
taken, from which hypothesis, and the target meant (None: the hit is for none)."""

NumberedHit = tuple[int, HeardHit]
"""The last hit on a pad, with its number."""

Continuations = dict[tuple[int, int], Continuation]
"""The cheapest continuation for each set of open targets (the first one, the later ones taken).

What comes later depends on the open targets and hardly on how they came about, so of two that leave
the same ones open the dearer is dropped."""


class Follower:
    """The hypotheses about one player. Targets and hits are counted from 0 as they come.

    Of a player met before, the habits and the lag (s, with its variance) may be given.
    """

    def __init__(
        self, habits: PlayerModel | None = None, lag_s: float | None = None, doubt: float = inf
    ) -> None:
        self.hypotheses = [Hypothesis(0.0, 0, 0, Lag(lag_s or 0.0, doubt, inf), 0, ())]
        self.habits = habits or PlayerModel()
        self.dues = DueList()
        self._met = lag_s is not None
        self._steady = 0
        self._home_s: float | None = None
        self._last: dict[Hashable, NumberedHit] = {}
        self._settled = 0
        self._unmatched_as: deque[int] = deque()
        self.held = HeldBuzzes()
        self._louder: dict[tuple[str, float], float] = {}

    @property
    def unsettled(self) -> int:
        """How many hits are not settled yet."""
        return len(self._unmatched_as)

    def add(self, due: DueTarget, feel: TargetFeel | None = None) -> int:
        """Take a target in, by time as far as no hypothesis looked past it; return its place."""
        if feel and feel.until_s is not None:
            self.held.add(due.voice, due.time_s, feel.until_s)
        if feel and feel.louder:
            self._louder[due.voice, due.time_s] = feel.louder
        seen = max(one.first + one.taken.bit_length() for one in self.hypotheses)
        return self.dues.add(due, seen)

    def drop(self, place: int) -> None:
        """Forget the targets from a place on; hits for them are for none."""
        self.held.drop(min(self.dues.times[place - self.dues.base :], default=inf))
        self.dues.drop(place)
        self.hypotheses = sorted(without_targets(one, place) for one in self.hypotheses)

    def forget(self, place: int) -> int:
        """Forget the targets before a place that no hypothesis needs; return the first one kept."""
        for one in self.hypotheses:
            place = min(place, one.first, *(target for _, target in one.given))
        self.dues.forget(max(place, self.dues.base))
        first_s = min(self.dues.times, default=-inf)
        self.held.forget(first_s)
        self._louder = {one: louder for one, louder in self._louder.items() if one[1] >= first_s}
        return self.dues.base

    def expire(self, now_s: float) -> None:
        """Give up the targets that can no longer be meant by a hit stamped `now_s` or later."""
        moment = Moment(now_s, self.habits.variance)
        self.hypotheses = sorted(self._expired(one, moment) for one in self.hypotheses)

    def hit(self, hit: HeardHit) -> int:
        """Continue with a hit; return what the best hypothesis says it is for.

        Every hypothesis continues with the hit for nothing and for each target within reach; the
        few best of all these are the hypotheses that remain.
        """
        # One spread for all that is weighed here: the hit must not change its own measure.
        moment = Moment(hit.time_s, self.habits.variance)
        before = self._last.get(hit.pad)
        self._last[hit.pad] = self._settled + len(self._unmatched_as), hit
        if before and like.is_forerunner(
            hit.time_s - before[1].time_s, before[1].velocity, hit.velocity
        ):
            self._was_forerunner(before[0])
        cost, unmatched_as = self._unmatched(hit, before[1] if before else None)
        self._unmatched_as.append(unmatched_as)
        hypotheses = [self._expired(one, moment) for one in self.hypotheses]
        hypotheses += self._back_home(hypotheses, hit.time_s)
        found: Continuations = {}
        for one in hypotheses:
            _keep_cheaper(found, (one.cost + cost, one.first, one.taken, one, None))
        self._add_matches(hit, before, moment, hypotheses, found)
        best = sorted(found.values())[:MOST_HYPOTHESES]
        dearest = best[0][0] + FAR_BEHIND
        self.hypotheses = [
            self._continued(one, moment, unmatched_as) for one in best if one[0] <= dearest
        ]
        fit = best[0][4]
        if fit is None:
            return unmatched_as
        self._learn(fit[0], hit)
        return fit[0]

    def settle(self, least: int = 0) -> list[int]:
        """Return what hits were for, oldest first, as far as all hypotheses agree.

        At least so many are settled; where hypotheses do not agree, the best one decides. Should
        another turn out better afterwards, what was settled stays, and no target is given twice.
        """
        end = self._settled + len(self._unmatched_as)
        until = agreed_until(self.hypotheses, self._settled + least, end)
        if until == self._settled:
            return []
        meant = dict(self.hypotheses[0].given)
        unmatched_as = self._unmatched_as
        found = [meant.get(hit, unmatched_as.popleft()) for hit in range(self._settled, until)]
        self._settled = until
        if any(one.given and one.given[0][0] < until for one in self.hypotheses):
            self.hypotheses = [
                Hypothesis(*one[:5], given_from(one, until)) for one in self.hypotheses
            ]
        # A target may have been settled for an earlier hit by a hypothesis that lost since.
        return [AS_STRAY if place >= 0 and self.dues.close(place) else place for place in found]

    def _was_forerunner(self, number: int) -> None:
        """Take back what a hit cost as a stray: it was the faint note before the stroke itself."""
        place = number - self._settled
        if place < 0 or self._unmatched_as[place] != AS_STRAY:
            return
        self._unmatched_as[place] = AS_DOUBLE
        self.hypotheses = [
            one
            if any(hit == number for hit, _ in one.given[-MOST_AT_ONCE:])
            else one._replace(cost=one.cost - like.FORERUNNER_GAIN, slips=max(0, one.slips - 1))
            for one in self.hypotheses
        ]

    def _unmatched(self, hit: HeardHit, before: HeardHit | None) -> tuple[float, int]:
        """Return the cost of a hit that is for no target, and whether as a stray or a double.

        `before` is the last hit on the same pad.
        """
        if before is not None and self.held.holds(hit):
            return like.BOUNCE_COST, AS_BOUNCE
        if before is not None:
            again = like.double_cost(hit.time_s - before.time_s, hit.velocity, before.velocity)
            again += like.FLAM_NO_DOUBLE * self._grace_due(hit)
            if again < like.STRAY_COST:
                return again, AS_DOUBLE
        times = self.dues.times
        if not self._met and times and hit.time_s < times[0]:
            return like.RUN_IN_COST, AS_STRAY
        return like.STRAY_COST, AS_STRAY

    def _grace_due(self, hit: HeardHit) -> bool:
        """Return whether a grace note is due on the drum of a hit at about its time."""
        here_s, near_s = hit.time_s - self.hypotheses[0].lag.late_s, like.FLAM_S / 2
        start = bisect_left(self.dues.times, here_s - near_s)
        end = bisect_right(self.dues.times, here_s + near_s)
        return any(one.grace and one.voice == hit.voice for one in self.dues.due[start:end])

    def _expired(self, hypothesis: Hypothesis, moment: Moment) -> Hypothesis:
        """Charge the targets that are out of reach as missed."""
        cost, first, taken, lag, slips, given = hypothesis
        times, base, end = self.dues.times, self.dues.base, self.dues.end
        if first >= end:
            return hypothesis
        limit = moment.seen_from(lag, slips).low_s
        if times[first - base] >= limit:
            return hypothesis
        while first < end and (taken & 1 or times[first - base] < limit):
            if not taken & 1:
                cost += like.miss_cost(slips)
                slips += 1
                if slips == like.SLIPS:
                    # From here on the player's place is lost and may be anywhere in the range.
                    limit = moment.now_s - lag.late_s - like.LAG_RANGE_S
            taken >>= 1
            first += 1
        return Hypothesis(cost, first, taken, lag, slips, given)

    def _back_home(self, hypotheses: list[Hypothesis], now_s: float) -> list[Hypothesis]:
        """Return the hypotheses that are far from the lag the player had for long, moved there.

        A lost player is found where the next strokes fit, and in a groove they fit half a beat off
        too: without this nobody would look at the old place again.
        """
        home_s = self._home_s
        if home_s is None:
            return []
        home = Lag(home_s, like.HOME_VARIANCE, now_s)
        return [
            one._replace(cost=one.cost + like.RETURN_COST, lag=home, slips=0)
            for one in hypotheses
            if abs(one.lag.late_s - home_s) > like.HOME_APART_S
        ]

    def _add_matches(
        self,
        hit: HeardHit,
        before: NumberedHit | None,
        moment: Moment,
        hypotheses: list[Hypothesis],
        found: Continuations,
    ) -> None:
        """Add the continuations with the hit for a target that may be among the best."""
        # Only what stays within `most` can survive; the limit sinks as cheaper ones are found.
        costs = [one[0] for one in found.values()]
        most = min(costs) + FAR_BEHIND
        if len(costs) == MOST_HYPOTHESES:
            most = min(most, max(costs))
        firsts = [one.first for one in hypotheses]
        lowest, highest = min(firsts), max(firsts)
        cheapest = min(one.cost for one in hypotheses) - COST_ROUNDING
        for hypothesis in hypotheses:
            reachable = moment.seen_from(hypothesis.lag, hypothesis.slips)
            if reachable.fits is None:
                reachable.fits = self._fits(hit, reachable, lowest, highest, most - cheapest)
            cost, first, taken, _, slips, given = hypothesis
            grace = self._grace_before(before, hit, given)
            for fit in reachable.fits:
                place, pad, loudness, time, _ = fit
                if grace and grace[0] < place and not pad:
                    time = self._tied(place, grace, hit.time_s, time)
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
                _keep_cheaper(found, (total, *skip_closed(first, left), hypothesis, fit))
                most = min(most, total + FAR_BEHIND)

    def _grace_before(
        self, before: NumberedHit | None, hit: HeardHit, given: Given
    ) -> tuple[int, float] | None:
        """Return which grace note the hit before on the same pad was for, and how late it was."""
        if before is None or hit.time_s - before[1].time_s > like.FLAM_S:
            return None
        for number, place in given[-MOST_AT_ONCE:]:
            if number == before[0] and self.dues.due[place - self.dues.base].grace:
                return place, before[1].time_s - self.dues.times[place - self.dues.base]
        return None

    def _tied(self, place: int, grace: tuple[int, float], now_s: float, time: float) -> float:
        """Return what the time of a hit costs for a target: as late as its grace note came."""
        due_s, grace_s = (self.dues.times[one - self.dues.base] for one in (place, grace[0]))
        tied = like.offset_cost(now_s - due_s - grace[1], like.FLAM_VARIANCE)
        return time if due_s - grace_s > like.FLAM_S else min(time, tied)

    def _fits(
        self, hit: HeardHit, reachable: ReachableTargets, lowest: int, highest: int, budget: float
    ) -> list[TargetFit]:
        """Return the targets a hit may be for at no more cost than the budget."""
        time_s, voice, _, velocity = hit
        dues, habits, late_s = self.dues, self.habits, reachable.late_s
        lost, variance = reachable.doubt == inf, reachable.doubt + habits.variance
        low_s, high_s = reachable.low_s, reachable.high_s
        if lost and voice not in dues.voices:
            # A pad that is never due fits every target equally badly: it must not say where a lost
            # player is, and looking through the whole range for it would take long.
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
                loudness = habits.surprise(due.voice, due.level, self._at_mf(due, velocity))
                found.append((dues.base + at, pad, loudness, time, reachable.doubt))
        return found

    def _continued(
        self, continuation: Continuation, moment: Moment, unmatched_as: int
    ) -> Hypothesis:
        """Return the hypothesis that a continuation leads to."""
        cost, first, taken, before, fit = continuation
        _, _, _, lag, slips, given = before
        if fit is None:
            slips += unmatched_as == AS_STRAY
            return Hypothesis(cost, first, taken, lag, slips, given)
        place, pad, _, _, doubt = fit
        variance = moment.variance
        offset = moment.now_s - self.dues.times[place - self.dues.base]
        if doubt == inf:
            # A stroke on another pad does not show where the player is.
            lag = lag if pad else Lag(offset, variance, moment.now_s)
        else:
            # A Kalman step: the lag moves toward the offset by as much as it is in doubt.
            late_s = lag.late_s + doubt / (doubt + variance) * (offset - lag.late_s)
            lag = Lag(late_s, doubt * (variance / (doubt + variance)), moment.now_s)
        if pad != like.UNKNOWN_PAD_COST:
            slips = slips + like.WRONG_SLIPS if pad else max(0, min(like.SLIPS, slips) - 1)
        hit = self._settled + len(self._unmatched_as) - 1
        return Hypothesis(cost, first, taken, lag, slips, (*given, (hit, place)))

    def _learn(self, place: int, hit: HeardHit) -> None:
        """Learn what the player is like from the best hypothesis's account of the newest hit."""
        best = self.hypotheses[0]
        self._met = True
        self._steady = self._steady + 1 if best.slips == 0 else 0
        if self._steady >= like.HOME_STROKES:
            self._home_s = best.lag.late_s
        due = self.dues.due[place - self.dues.base]
        self.habits.learn_time(hit.time_s - due.time_s - best.lag.late_s, best.lag.doubt)
        if best.slips == 0:
            self.habits.learn_loudness(due.voice, due.level, self._at_mf(due, hit.velocity))

    def _at_mf(self, due: DueTarget, velocity: float) -> float:
        """Return a velocity without what the dynamics of a target add to it."""
        return velocity - self._louder.get((due.voice, due.time_s), 0.0)


def _keep_cheaper(found: Continuations, continuation: Continuation) -> None:
    """Keep the cheaper of two continuations that leave the same targets open."""
    key = continuation[1], continuation[2]
    other = found.get(key)
    if other is None or continuation[0] < other[0]:
        found[key] = continuation
