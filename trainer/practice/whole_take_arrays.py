"""A whole take as arrays: its clear part is matched at once, its tangled part is only marked.

One array for each thing the matching needs of targets and of hits, in time order. The costs are
those of `trainer.practice.likelihood`. The player's lag is smoothed over the strokes before and
after. Then, voice by voice, every hit claims the nearest target of its own voice:

- a target claimed once has its hit; claimed twice, the cheaper of the two, the other is left over;
- a hit left over next to one target without a hit is a wrong pad where that is cheaper;
- a hit with no such target near is a double or a stray, a target with no such hit near is missed.

Whatever is neither (three claims, two hits left over round two free targets, odd claims where two
strokes on one drum are closer than hits may stray, parts where too few targets are claimed for the
lag to be believed) is tangled and left to the follower.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from operator import attrgetter
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from trainer.practice import likelihood
from trainer.practice import likelihood as like
from trainer.practice.follower import HeardHit
from trainer.practice.hypothesis import AS_DOUBLE, AS_STRAY, DueTarget

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit
    from trainer.practice.course import Target


Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

LEVELS = ("ghost", "normal", "accent")


class Numbering(dict[Any, int]):
    """Small whole numbers for names, in the order they are first met."""

    def numbers(self, names: Sequence[Any]) -> Ints:
        """Return the numbers of names, new ones included."""
        for name in dict.fromkeys(names):
            self.setdefault(name, len(self))
        return np.array([self[name] for name in names], np.int64)


@dataclass(frozen=True)
class TakeArrays:
    """Targets and hits in time order; voices, limbs, levels and pads as small whole numbers."""

    due_s: Floats
    due_voice: Ints
    due_limb: Ints
    due_level: Ints
    hit_s: Floats
    hit_voice: Ints
    hit_pad: Ints
    velocity: Floats
    voices: tuple[str | None, ...]
    limbs: tuple[str | None, ...]

    @cached_property
    def by_voice(self) -> list[tuple[Ints, Ints]]:
        """The places of the targets and of the hits of each voice."""
        return [
            (np.flatnonzero(self.due_voice == voice), np.flatnonzero(self.hit_voice == voice))
            for voice in range(len(self.voices))
        ]

    @cached_property
    def due_kind(self) -> Ints:
        """Voice and level of each target in one number."""
        return self.due_voice * len(LEVELS) + self.due_level

    @cached_property
    def pad_cost(self) -> Floats:
        """The cost of a struck voice (row) where another was due (column)."""
        return np.array(
            [[like.pad_cost(one, str(two)) for two in self.voices] for one in self.voices]
        )

    def dues(self, places: Ints) -> list[DueTarget]:
        """Return some targets as the follower takes them."""
        return [
            DueTarget(time_s, str(self.voices[voice]), self.limbs[limb], LEVELS[level])
            for time_s, voice, limb, level in zip(
                self.due_s[places].tolist(),
                self.due_voice[places].tolist(),
                self.due_limb[places].tolist(),
                self.due_level[places].tolist(),
                strict=True,
            )
        ]

    def blows(self, places: Ints) -> list[HeardHit]:
        """Return some hits as the follower takes them."""
        return [
            HeardHit(time_s, self.voices[voice], pad, velocity)
            for time_s, voice, pad, velocity in zip(
                self.hit_s[places].tolist(),
                self.hit_voice[places].tolist(),
                self.hit_pad[places].tolist(),
                self.velocity[places].tolist(),
                strict=True,
            )
        ]


def take_arrays_of(targets: Sequence[Target], hits: Sequence[Hit]) -> tuple[TakeArrays, Ints, Ints]:
    """Return a take, and where its targets and its hits stand in the sequences.

    Hits that the kit's filter marked are left out: they take no target.
    """
    due_s = np.array(list(map(_TIME, targets)), float)
    hit_s = np.array(list(map(_TIME, hits)), float)
    due_place = np.argsort(due_s, kind="stable")
    heard = np.argsort(hit_s, kind="stable")
    heard = heard[~np.array([bool(hit.flag) for hit in hits], bool)[heard]]
    notes = list(map(_NOTE, targets))
    struck = list(map(_VOICE, hits))
    voices, limbs = Numbering(), Numbering()
    take = TakeArrays(
        due_s=due_s[due_place],
        due_voice=voices.numbers(list(map(_VOICE, notes)))[due_place],
        due_limb=limbs.numbers(list(map(_LIMB, notes)))[due_place],
        due_level=Numbering(_LEVELS).numbers(list(map(_LEVEL, notes)))[due_place],
        hit_s=hit_s[heard],
        hit_voice=voices.numbers(struck)[heard],
        hit_pad=Numbering().numbers(
            [voice or note for voice, note in zip(struck, map(_NOTE, hits), strict=True)]
        )[heard],
        velocity=np.array(list(map(_VELOCITY, hits)), float)[heard],
        voices=tuple(voices),
        limbs=tuple(limbs),
    )
    return take, due_place, heard


_TIME, _NOTE, _VOICE, _LIMB, _LEVEL, _VELOCITY = map(
    attrgetter, ("time_s", "note", "voice", "limb", "level", "velocity")
)
_LEVELS = {name: number for number, name in enumerate(LEVELS)}


NEAR_LAG_S = 0.050
"""Offsets from the lag so far that count in smoothing it, in seconds."""

SMOOTHED = (8, 4)
"""Half-widths, in hits, of the two rounds of smoothing."""

TRUSTED_SHARE, TRUSTED_SPAN = 0.75, 20
"""The lag is believed where this share of the targets, so many to each side, is claimed."""


WEAK_CLAIM = 0.45
"""A claim from beyond this part of the reach is doubted where another hit could have it."""


@dataclass(frozen=True)
class SettledHits:
    """What each hit was for (a place, STRAY or DOUBLE), the lag at each hit, and the tangles."""

    told: Ints
    lag: Floats
    variance: float
    tangled_hit: Bools
    tangled_due: Bools
    lost_due: Bools


def settle_in_arrays(take: TakeArrays, lag_s: float) -> SettledHits:
    """Settle a take whose player's lag is about `lag_s` throughout."""
    lag = np.full(len(take.hit_s), lag_s)
    for half in SMOOTHED:
        claim, offset, first = _claims(take, lag)
        lag = lag + _smooth(offset, first & (np.abs(offset) < NEAR_LAG_S), half)
    claim, offset, first = _claims(take, lag)
    near = offset[first & (np.abs(offset) < NEAR_LAG_S)]
    variance = float(np.mean(near**2)) if len(near) else likelihood.FIRST_SPREAD_S**2
    variance = max(likelihood.LEAST_SPREAD_S**2, variance) * 1.2
    return _Decision(take, lag, variance, claim, offset).settled()


def _claims(take: TakeArrays, lag: Floats) -> tuple[Ints, Floats, Bools]:
    """Return each hit's nearest target of its voice (or -1), its offset, and who came first."""
    claim = np.full(len(lag), -1)
    offset = np.full(len(lag), np.inf)
    first = np.zeros(len(lag), bool)
    there = take.hit_s - lag
    for dues, hits in take.by_voice:
        if len(dues) and len(hits):
            at, when = there[hits], take.due_s[dues]
            right = np.searchsorted(when, at)
            left = np.maximum(right - 1, 0)
            right = np.minimum(right, len(dues) - 1)
            pick = np.where(at - when[left] <= when[right] - at, left, right)
            claim[hits], offset[hits] = dues[pick], at - when[pick]
            first[hits] = np.diff(pick, prepend=-1) > 0
    return claim, offset, first


def _smooth(values: Floats, use: Bools, half: int) -> Floats:
    """Return the mean of the used values round each place, the near ones weighing more."""
    total = _boxes(np.where(use, values, 0.0), half)
    count = _boxes(use.astype(float), half)
    return np.divide(total, count, out=np.zeros_like(total), where=count > 0.5)


def _boxes(values: Floats, half: int) -> Floats:
    """Return the sums over `half` places either way, summed so once more (a triangle)."""
    for _ in range(2):
        values = _box(values, half)
    return values


def _box(values: Floats, half: int) -> Floats:
    sums = np.concatenate(([0.0], np.cumsum(values)))
    places = np.arange(len(values))
    return sums[np.minimum(places + half + 1, len(values))] - sums[np.maximum(places - half, 0)]


class _Decision:
    """Turns claims into what every hit was for."""

    def __init__(
        self, take: TakeArrays, lag: Floats, variance: float, claim: Ints, offset: Floats
    ) -> None:
        self.take, self.lag, self.variance, self.offset = take, lag, variance, offset
        self.reach = like.REACH * float(np.sqrt(variance))
        self.claim = np.where(np.abs(offset) <= self.reach, claim, -1)
        self.told = np.full(len(lag), AS_STRAY)
        self.tangled_hit = np.zeros(len(lag), bool)
        self.tangled_due = np.zeros(len(take.due_s), bool)
        self.alone = self._alone()

    def settled(self) -> SettledHits:
        """Return the whole, settled where it is plain."""
        claims = np.bincount(self.claim[self.claim >= 0], minlength=len(self.take.due_s))
        self._once(claims)
        self._twice(claims)
        self._wrong_pads()
        lost = self._lost(claims > 0)
        return SettledHits(
            self.told, self.lag, self.variance, self.tangled_hit, self.tangled_due | lost, lost
        )

    def _alone(self) -> Floats:
        """Return every hit's cost as a double or a stray, and mark doubles in `told`."""
        take, cost = self.take, np.full(len(self.told), like.STRAY_COST)
        order = np.argsort(take.hit_pad, kind="stable")
        before, after = order[:-1], order[1:]
        delay = take.hit_s[after] - take.hit_s[before]
        again = (take.hit_pad[before] == take.hit_pad[after]) & (delay <= like.DOUBLE_S)
        before, after = before[again], after[again]
        louder = take.velocity[after] / np.maximum(1.0, take.velocity[before]) - 1.0
        hint = np.where(louder == 0, 0.0, np.clip(3.0 * (louder + 0.2), -0.7, 1.5))
        cost[after] = like.DOUBLE_COST + hint
        self.told[after] = AS_DOUBLE
        return cost

    def _fit(self, hits: Ints, dues: Ints) -> Floats:
        """Return the cost of hits as meant for targets, pads included."""
        take = self.take
        away = np.abs(take.hit_s[hits] - self.lag[hits] - take.due_s[dues])
        z = away / np.sqrt(self.variance)
        tail = np.where(z < 3.0, 0.5 * z * z, 3.0 * z - 4.5)
        pad = take.pad_cost[take.hit_voice[hits], take.due_voice[dues]]
        mean, variance = self._loudness
        kind = take.due_kind[dues]
        surprise = 0.5 * (take.velocity[hits] - mean[kind]) ** 2 / variance[kind]
        flat = 0.5 * np.log(2 * np.pi * self.variance)
        return np.asarray(flat + tail + pad + np.minimum(surprise, likelihood.MOST_LOUDNESS_COST))

    @cached_property
    def _loudness(self) -> tuple[Floats, Floats]:
        """The mean and variance of velocity of each kind, from what was claimed."""
        use = self.claim >= 0
        kind, loud = self.take.due_kind[self.claim[use]], self.take.velocity[use]
        size = int(self.take.due_kind.max(initial=0)) + 1
        count = np.maximum(1, np.bincount(kind, minlength=size))
        mean = np.bincount(kind, loud, size) / count
        variance = np.bincount(kind, loud * loud, size) / count - mean**2
        return mean, np.maximum(likelihood.LEAST_LOUDNESS_VARIANCE, variance)

    def _once(self, claims: Ints) -> None:
        claimed = self.claim >= 0
        single = claimed & (claims[self.claim] == 1)
        self.told[single] = self.claim[single]
        self.tangled_due |= (claims > 2) | ((claims != 1) & self._crowded())
        self.tangled_hit |= claimed & self.tangled_due[self.claim]

    def _crowded(self) -> Bools:
        """Return the targets with another of their voice within reach (flams, fast rolls)."""
        crowded = np.zeros(len(self.take.due_s), bool)
        for dues, _ in self.take.by_voice:
            close = np.flatnonzero(np.diff(self.take.due_s[dues]) < self.reach)
            crowded[dues[close]] = crowded[dues[close + 1]] = True
        return crowded

    def _twice(self, claims: Ints) -> None:
        """Of two hits that claim one target, give it to the one that makes the likelier story."""
        rivals = np.flatnonzero((self.claim >= 0) & (claims[self.claim] == 2) & ~self.tangled_hit)
        rivals = rivals[np.argsort(self.claim[rivals], kind="stable")]
        early, late = rivals[::2], rivals[1::2]
        dues = self.claim[early]
        first_one = self._fit(early, dues) + self.alone[late]
        second_one = self._fit(late, dues) + self.alone[early]
        # Without the early hit as its cause, the late one is no double, and the early one never is.
        winner = np.where(first_one <= second_one, early, late)
        self.told[winner] = dues

    def _wrong_pads(self) -> None:
        """Look at hits that stand alone next to targets without one."""
        take = self.take
        free = np.ones(len(take.due_s), bool)
        free[self.told[self.told >= 0]] = False
        dues = np.flatnonzero(free & ~self.tangled_due)
        hits = np.flatnonzero((self.told < 0) & ~self.tangled_hit)
        there, when = take.hit_s[hits] - self.lag[hits], take.due_s[dues]
        low = np.searchsorted(when, there - self.reach)
        count = np.searchsorted(when, there + self.reach) - low
        rivals = np.zeros(len(dues) + 1, np.int64)
        np.add.at(rivals, low, count > 0)
        np.add.at(rivals, low + count, -(count > 0).astype(np.int64))
        rivals = np.cumsum(rivals)
        near = dues[np.minimum(low, len(dues) - 1)] if len(dues) else low
        lone = (count == 1) & (rivals[low] == 1)
        # A lonely hit beside a lonely target of its own drum: who is whose has shifted here.
        lone[lone] &= take.hit_voice[hits[lone]] != take.due_voice[near[lone]]
        pair_hits, pair_dues = hits[lone], dues[low[lone]]
        wrong = self._fit(pair_hits, pair_dues) < self.alone[pair_hits] + like.MISS_COST
        self.told[pair_hits[wrong]] = pair_dues[wrong]
        self.tangled_hit[hits[(count > 0) & ~lone]] = True
        self._weak(there[self.told[hits] == AS_STRAY])

    def _weak(self, strays: Floats) -> None:
        """Doubt the hits that are far from the target they claim and have a stray beside."""
        claims = (self.told >= 0) & (self.told == self.claim)
        weak = np.flatnonzero(claims & (np.abs(self.offset) > WEAK_CLAIM * self.reach))
        there = self.take.hit_s[weak] - self.lag[weak]
        beside = np.searchsorted(strays, there - self.reach) < np.searchsorted(
            strays, there + self.reach
        )
        self.tangled_hit[weak[beside]] = True

    def _lost(self, claimed: Bools) -> Bools:
        """Return the targets of stretches where too few are claimed to believe the lag."""
        share = _box(claimed.astype(float), TRUSTED_SPAN) / _box(
            np.ones(len(claimed)), TRUSTED_SPAN
        )
        return np.asarray(share < TRUSTED_SHARE)
