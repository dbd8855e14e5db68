"""Matching a whole take at once: the plain part in whole arrays, the tangles by the follower."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import numpy as np

from trainer.practice import likelihood as like
from trainer.practice.arrays import NEAR_S, Settled, settle
from trainer.practice.columns import take_of
from trainer.practice.follower import Follower
from trainer.practice.matcher import RIMS, hit_outcome
from trainer.practice.outcomes import DOUBLE as DOUBLE_TRIGGER
from trainer.practice.outcomes import EXTRA, MISSED, PLAYED, WRONG_PAD
from trainer.practice.story import DOUBLE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from trainer.kit.hits import Hit
    from trainer.practice.columns import Bools, Floats, Ints, Take
    from trainer.practice.course import Target
    from trainer.practice.due_list import Due
    from trainer.practice.follower import Blow
    from trainer.practice.habits import Habits

LONG_TAKE = 4000
"""Takes of fewer hits are followed stroke by stroke: it takes no time, and is what live does."""

MOST_UNSETTLED = 200
"""Hits that may wait for a better story in a whole take: far more than any doubt lasts."""

GETTING_TO_KNOW = 300
"""Hits at the start of a long take that are followed to learn the player's lag and habits."""

SAMPLES, SAMPLE = 8, 100
"""So many stretches of so many hits are followed to see whether the lag stays where it was."""

LOST_MARGIN_S = 0.3
"""How far beyond a stretch where the lag is not believed the follower goes, in seconds."""

KNOWN_DOUBT = 0.005**2
"""Variance of the smoothed lag at the start of a tangle (s^2)."""


def match(
    targets: Sequence[Target], hits: Sequence[Hit]
) -> tuple[list[int | None], list[str], list[str]]:
    """Return, for a whole take: each hit's target or None, each hit's and each target's outcome.

    Targets and hits are named by their place in the sequences, which may come in any order of time.
    """
    take, due_place, heard = take_of(targets, hits)
    told = meant(take)
    paired = told >= 0
    pair_hits, pair_targets = heard[paired], due_place[told[paired]]
    own = take.hit_voice[paired] == take.due_voice[told[paired]]
    hit_target = np.full(len(hits), None, object)
    hit_target[pair_hits] = pair_targets.tolist()
    target_outcomes = np.full(len(targets), MISSED, object)
    target_outcomes[pair_targets] = np.where(own, PLAYED, WRONG_PAD)
    hit_outcomes = np.array([hit.flag for hit in hits], object)
    hit_outcomes[heard] = np.where(told == DOUBLE, DOUBLE_TRIGGER, EXTRA)
    hit_outcomes[pair_hits] = target_outcomes[pair_targets]
    for place, target in zip(pair_hits[own].tolist(), pair_targets[own].tolist(), strict=True):
        if hits[place].zone in RIMS:
            hit_outcomes[place] = hit_outcome(hits[place], targets[target])
    return hit_target.tolist(), hit_outcomes.tolist(), target_outcomes.tolist()


def meant(take: Take) -> Ints:
    """Return what each hit of a take was for: a target's place, STRAY or DOUBLE."""
    if len(take.hit_s) < LONG_TAKE or not len(take.due_s):
        return stroke_by_stroke(take)
    return in_arrays(take)


def stroke_by_stroke(take: Take) -> Ints:
    """Return what each hit of a take was for, as the follower alone finds it."""
    every = np.arange(len(take.hit_s)), np.arange(len(take.due_s))
    return _followed(take, Follower(), *every)


def follow(follower: Follower, dues: Iterable[Due], blows: Iterable[Blow]) -> list[int]:
    """Return what each hit was for, stroke by stroke."""
    for target in dues:
        follower.add(target)
    told: list[int] = []
    for one in blows:
        follower.hit(one)
        told += follower.settle(max(0, follower.unsettled - MOST_UNSETTLED))
    follower.expire(inf)
    return told + follower.settle(follower.unsettled)


def in_arrays(take: Take) -> Ints:
    """Return what each hit of a long take was for."""
    known, lag_s = _acquainted(take)
    if _runs_away(take, known, lag_s):
        return stroke_by_stroke(take)
    settled = settle(take, lag_s)
    told = settled.told
    for hits, dues, lost in _tangles(take, settled):
        habits = known.copy(settled.variance)
        follower = Follower(habits, float(settled.lag[hits[0]]), inf if lost else KNOWN_DOUBT)
        for before in take.blows(np.arange(max(0, hits[0] - 6), hits[0])):
            follower.remember(before)
        told[hits] = _followed(take, follower, hits, dues)
    return told


def _followed(take: Take, follower: Follower, hits: Ints, dues: Ints) -> Ints:
    """Return what some hits were for, of some targets, stroke by stroke."""
    places = np.array(follow(follower, take.dues(dues), take.blows(hits)), np.int64)
    found = places >= 0
    places[found] = dues[places[found]]
    return places


def _acquainted(take: Take) -> tuple[Habits, float]:
    """Return the player's habits and lag as the start of the take shows them."""
    follower = Follower()
    return follower.habits, _lag_at(take, follower, 0, GETTING_TO_KNOW) or 0.0


def _runs_away(take: Take, known: Habits, lag_s: float) -> bool:
    """Return whether the lag anywhere is too far from the first for the arrays to believe it."""
    for first in np.linspace(0, len(take.hit_s) - SAMPLE, SAMPLES + 1).astype(int)[1:]:
        follower = Follower(known.copy(known.variance), lag_s)
        lag = _lag_at(take, follower, int(first), SAMPLE)
        if lag is not None and abs(lag - lag_s) > NEAR_S:
            return True
    return False


def _lag_at(take: Take, follower: Follower, first: int, count: int) -> float | None:
    """Return the median lag of some hits, None where none is for a target."""
    hits = np.arange(first, min(first + count, len(take.hit_s)))
    ends = take.hit_s[hits[0]] - like.FAR_S, take.hit_s[hits[-1]] + like.FAR_S
    told = _followed(take, follower, hits, np.arange(*np.searchsorted(take.due_s, ends)))
    found = told >= 0
    return (
        float(np.median(take.hit_s[hits[found]] - take.due_s[told[found]])) if found.any() else None
    )


def _tangles(take: Take, settled: Settled) -> Iterator[tuple[Ints, Ints, bool]]:
    """Yield the hits and the targets of every tangle, and whether the lag is unknown there."""
    told, here = settled.told, take.hit_s - settled.lag
    paired = told >= 0
    here[paired] = take.due_s[told[paired]]
    reach = like.REACH * settled.variance**0.5
    knots = np.concatenate([here[settled.tangled_hit], take.due_s[settled.tangled_due]])
    lost = take.due_s[settled.lost_due]
    starts, ends, far = _stretches(
        np.concatenate([knots - reach, lost - LOST_MARGIN_S]),
        np.concatenate([knots + reach, lost + LOST_MARGIN_S]),
        np.concatenate([np.zeros(len(knots), bool), np.ones(len(lost), bool)]),
    )
    dues = _members(take.due_s, starts, ends)
    for which, hits in enumerate(_members(here, starts, ends)):
        if len(hits):
            yield hits, dues[which], bool(far[which])


def _stretches(starts: Floats, ends: Floats, lost: Bools) -> tuple[Floats, Floats, Bools]:
    """Return the union of stretches that overlap; lost where any of them is."""
    if not len(starts):
        return starts, ends, lost
    order = np.argsort(starts)
    starts, ends, lost = starts[order], np.maximum.accumulate(ends[order]), lost[order]
    new = np.flatnonzero(np.concatenate(([True], starts[1:] > ends[:-1])))
    last = np.append(new[1:], len(starts)) - 1
    return starts[new], ends[last], np.logical_or.reduceat(lost, new)


def _members(times: Floats, starts: Floats, ends: Floats) -> list[Ints]:
    """Return, for every stretch, the places of the times that lie in it, in their order."""
    if not len(starts):
        return []
    stretch = np.searchsorted(starts, times, side="right") - 1
    places = np.flatnonzero((stretch >= 0) & (times <= ends[stretch]))
    stretch = stretch[places]
    order = np.argsort(stretch, kind="stable")
    cuts = np.searchsorted(stretch[order], np.arange(1, len(starts)))
    return np.split(places[order], cuts)
