"""One hypothesis about a take, and the lists of targets that hypotheses can still choose from.

A `Hypothesis` records what each hit was for, which targets are open and how late the player is. The
list holds targets by time, counted from 0; those that no hypothesis needs any more are forgotten.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from math import inf, sqrt
from typing import TYPE_CHECKING, NamedTuple

from trainer.practice import likelihood as like

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence


class HeardHit(NamedTuple):
    """What the follower needs to know of a hit.

    `pad` is whatever pads differ in, also those without a voice.
    """

    time_s: float
    voice: str | None
    pad: Hashable
    velocity: float


class HeldBuzzes:
    """The buzz strokes that are due, by voice: what bounces while one is held is no stray."""

    def __init__(self) -> None:
        self._spans: dict[str, list[tuple[float, float]]] = {}

    def add(self, voice: str, time_s: float, until_s: float) -> None:
        """Take in a buzz stroke on a voice."""
        insort(self._spans.setdefault(voice, []), (time_s, until_s))

    def holds(self, hit: HeardHit) -> bool:
        """Return whether a buzz is held where a hit falls: from its stroke to its end."""
        spans = self._spans.get(hit.voice or "", ())
        at = bisect_right(spans, (hit.time_s, inf)) - 1
        return at >= 0 and hit.time_s <= spans[at][1] + like.BOUNCE_LATE_S

    def forget(self, until_s: float) -> None:
        """Forget what was over well before a second."""
        for spans in self._spans.values():
            del spans[: max(0, bisect_right(spans, (until_s, inf)) - 1)]

    def drop(self, from_s: float) -> None:
        """Forget what is due from a second on."""
        for spans in self._spans.values():
            del spans[bisect_left(spans, (from_s, -inf)) :]


MOST_OPEN = 48
"""Open targets looked at for one hit: bounds the time where hundreds are due at once."""


class DueTarget(NamedTuple):
    """What the follower needs to know of a target."""

    time_s: float
    voice: str
    limb: str | None
    level: str
    grace: int = 0


class DueList:
    """Targets by their places, counted from 0 since the beginning.

    `due` and `times` hold those from `base` on: place p is at p - base. `voices` are all that any
    target ever had.
    """

    def __init__(self) -> None:
        self.base = 0
        self.due: list[DueTarget] = []
        self.times: list[float] = []
        self.voices: set[str] = set()
        self._closed: set[int] = set()
        self._kin: dict[int, int] = {}

    @property
    def end(self) -> int:
        """The place after the last target."""
        return self.base + len(self.due)

    def add(self, due: DueTarget, seen: int) -> int:
        """Take a target in, by time but not before the place `seen`; return its place."""
        at = max(bisect_right(self.times, due.time_s), seen - self.base)
        if at < len(self.due):
            self._kin.clear()
        self.due.insert(at, due)
        self.times.insert(at, due.time_s)
        self.voices.add(due.voice)
        return self.base + at

    def close(self, place: int) -> bool:
        """Close a target, given or missed; return whether it was closed before."""
        was = place in self._closed
        self._closed.add(place)
        return was

    def drop(self, place: int) -> None:
        """Forget the targets from a place on."""
        del self.due[place - self.base :], self.times[place - self.base :]
        self._kin.clear()
        self._closed = {one for one in self._closed if one < place}

    def forget(self, place: int) -> None:
        """Forget the targets before a place."""
        for gone in range(self.base, place):
            self._closed.discard(gone)
            self._kin.pop(gone, None)
        del self.due[: place - self.base], self.times[: place - self.base]
        self.base = place

    def kin(self, place: int, lowest: int) -> int:
        """Return the earlier targets, `lowest` and after, of the same drum or limb as one.

        Bit i is the target at place - MOST_OPEN + i. `lowest` must not fall from call to call.
        """
        found = self._kin.get(place)
        if found is None:
            found = self._kin[place] = self._kin_of(place, max(lowest, place - MOST_OPEN))
        return found

    def _kin_of(self, place: int, lowest: int) -> int:
        _, voice, limb, *_ = self.due[place - self.base]
        kin, bit = 0, 1 << lowest - place + MOST_OPEN
        for other in self.due[lowest - self.base : place - self.base]:
            if other.voice == voice or (limb is not None and other.limb == limb):
                kin |= bit
            bit <<= 1
        return kin


AS_STRAY, AS_DOUBLE, AS_BOUNCE = -1, -2, -3
"""What a hit is for that has no target."""


class Lag(NamedTuple):
    """How late the player is (s), with a variance (s^2, infinite where not known), as last seen."""

    late_s: float
    doubt: float
    seen_s: float


Given = tuple[tuple[int, int], ...]
"""Hits with the targets they are for."""


class Hypothesis(NamedTuple):
    """One account of the take so far.

    `first` is the first open target, `taken` has a bit for each later one that is not open (bit 0
    is `first`), `slips` counts strokes that fitted badly in a row. `given` has the hit
    and the target for each unsettled hit that is for one; the others are what they are alone.
    """

    cost: float
    first: int
    taken: int
    lag: Lag
    slips: int
    given: Given


def skip_closed(first: int, taken: int) -> tuple[int, int]:
    """Return the first open target and the rest, when some at the front are no longer open."""
    gone = (~taken & (taken + 1)).bit_length() - 1
    return first + gone, taken >> gone


def without_targets(one: Hypothesis, place: int) -> Hypothesis:
    """Return a hypothesis that never knew the targets from a place on."""
    given = tuple(pair for pair in one.given if pair[1] < place)
    lost = len(one.given) - len(given)
    taken = one.taken & ((1 << max(0, place - one.first)) - 1)
    first, taken = skip_closed(min(one.first, place), taken)
    return Hypothesis(one.cost + lost * like.STRAY_COST, first, taken, one.lag, one.slips, given)


def agreed_until(hypotheses: Sequence[Hypothesis], hit: int, end: int) -> int:
    """Return the first hit from `hit` on that not all agree about, `end` where they do."""
    if len(hypotheses) == 1:
        return end
    rows = [given_from(one, hit) for one in hypotheses]
    shared = rows[0]
    for row in rows:
        while row[: len(shared)] != shared:
            shared = shared[:-1]
    # The hit after the common part is the first that one of them gives to another target.
    count = len(shared)
    return min([row[count][0] for row in rows if len(row) > count], default=end)


def given_from(one: Hypothesis, until: int) -> tuple[tuple[int, int], ...]:
    """Return what a hypothesis gives from the hit `until` on, when those before it are settled."""
    given = one.given
    while given and given[0][0] < until:
        given = given[1:]
    return given


TargetFit = tuple[int, float, float, float, float]
"""A target within reach of a hit, what the hit costs for it (pad, loudness, time), and the variance
(s^2) of the lag it was seen from."""


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
    """A hit, or only the time: what may be meant, from every lag that the hypotheses have."""

    def __init__(self, now_s: float, variance: float) -> None:
        self.now_s, self.variance = now_s, variance
        self._seen: dict[tuple[Lag, bool], ReachableTargets] = {}

    def seen_from(self, lag: Lag, slips: int) -> ReachableTargets:
        """Return what may be meant, seen from a hypothesis's lag after so many slips."""
        key = lag, slips >= like.SLIPS
        found = self._seen.get(key)
        if found is None:
            found = self._seen[key] = ReachableTargets(lag, key[1], self.now_s, self.variance)
        return found
