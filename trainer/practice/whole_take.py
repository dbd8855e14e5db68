"""Matching a whole take at once, and how many passes of a pattern it holds.

Short takes are followed stroke by stroke, as live; of long ones the clear part is matched in arrays
and the tangles by the follower.

A pass whose very last stroke is missing was played and that stroke is missed; after a player stops
on the way nothing more is due; a stroke alone after the end begins no pass.
"""

from __future__ import annotations

import math
from dataclasses import replace
from math import inf
from statistics import pstdev
from typing import TYPE_CHECKING

import numpy as np

from trainer.practice import likelihood as like
from trainer.practice.course import Course, Pass, seconds_per_quarter
from trainer.practice.follower import Follower
from trainer.practice.hypothesis import AS_DOUBLE
from trainer.practice.likelihood import LAG_RANGE_S
from trainer.practice.outcomes import (
    DOUBLE,
    EXTRA,
    MISSED,
    PLAYED,
    RIM,
    RIMS,
    WRONG_PAD,
    hit_outcome,
)
from trainer.practice.outcomes import DOUBLE as DOUBLE_TRIGGER
from trainer.practice.whole_take_arrays import (
    NEAR_LAG_S,
    SettledHits,
    settle_in_arrays,
    take_arrays_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from trainer.kit.hits import Hit
    from trainer.pattern.model import Pattern
    from trainer.practice.course import Target
    from trainer.practice.follower import HeardHit
    from trainer.practice.hypothesis import DueTarget
    from trainer.practice.likelihood import PlayerModel
    from trainer.practice.whole_take_arrays import Bools, Floats, Ints, TakeArrays


LONG_TAKE = 4000
"""Takes of fewer hits are followed stroke by stroke: it takes no time, and is what live does."""

MOST_UNSETTLED = 200
"""Hits that may wait for a better story in a whole take: far more than any doubt lasts."""

FIRST_HITS = 300
"""Hits at the start of a long take that are followed to learn the player's lag and habits."""

SAMPLES, SAMPLE = 8, 100
"""So many stretches of so many hits are followed to see whether the lag stays where it was."""

LOST_MARGIN_S = 0.3
"""How far beyond a stretch where the lag is not believed the follower goes, in seconds."""

KNOWN_DOUBT = 0.005**2
"""Variance of the smoothed lag at the start of a tangle (s^2)."""


def match_take(
    targets: Sequence[Target], hits: Sequence[Hit]
) -> tuple[list[int | None], list[str], list[str]]:
    """Return, for a whole take: each hit's target or None, each hit's and each target's outcome.

    Targets and hits are named by their place in the sequences, which may come in any order of time.
    """
    take, due_place, heard = take_arrays_of(targets, hits)
    told = targets_meant(take)
    paired = told >= 0
    pair_hits, pair_targets = heard[paired], due_place[told[paired]]
    own = take.hit_voice[paired] == take.due_voice[told[paired]]
    hit_target = np.full(len(hits), None, object)
    hit_target[pair_hits] = pair_targets.tolist()
    target_outcomes = np.full(len(targets), MISSED, object)
    target_outcomes[pair_targets] = np.where(own, PLAYED, WRONG_PAD)
    hit_outcomes = np.array([hit.flag for hit in hits], object)
    hit_outcomes[heard] = np.where(told == AS_DOUBLE, DOUBLE_TRIGGER, EXTRA)
    hit_outcomes[pair_hits] = target_outcomes[pair_targets]
    for place, target in zip(pair_hits[own].tolist(), pair_targets[own].tolist(), strict=True):
        if hits[place].zone in RIMS:
            hit_outcomes[place] = hit_outcome(hits[place], targets[target])
    return hit_target.tolist(), hit_outcomes.tolist(), target_outcomes.tolist()


def targets_meant(take: TakeArrays) -> Ints:
    """Return what each hit of a take was for: a target's place, STRAY or DOUBLE."""
    if len(take.hit_s) < LONG_TAKE or not len(take.due_s):
        return match_by_stroke(take)
    return match_in_arrays(take)


def match_by_stroke(take: TakeArrays) -> Ints:
    """Return what each hit of a take was for, as the follower alone finds it."""
    every = np.arange(len(take.hit_s)), np.arange(len(take.due_s))
    return _followed(take, Follower(), *every)


def follow_strokes(
    follower: Follower, dues: Iterable[DueTarget], blows: Iterable[HeardHit]
) -> list[int]:
    """Return what each hit was for, stroke by stroke."""
    for target in dues:
        follower.add(target)
    told: list[int] = []
    for one in blows:
        follower.hit(one)
        told += follower.settle(max(0, follower.unsettled - MOST_UNSETTLED))
    follower.expire(inf)
    return told + follower.settle(follower.unsettled)


def match_in_arrays(take: TakeArrays) -> Ints:
    """Return what each hit of a long take was for."""
    known, lag_s = _acquainted(take)
    if _runs_away(take, known, lag_s):
        return match_by_stroke(take)
    settled = settle_in_arrays(take, lag_s)
    told = settled.told
    for hits, dues, lost in _tangles(take, settled):
        habits = known.copy(settled.variance)
        follower = Follower(habits, float(settled.lag[hits[0]]), inf if lost else KNOWN_DOUBT)
        for before in take.blows(np.arange(max(0, hits[0] - 6), hits[0])):
            follower.remember(before)
        told[hits] = _followed(take, follower, hits, dues)
    return told


def _followed(take: TakeArrays, follower: Follower, hits: Ints, dues: Ints) -> Ints:
    """Return what some hits were for, of some targets, stroke by stroke."""
    places = np.array(follow_strokes(follower, take.dues(dues), take.blows(hits)), np.int64)
    found = places >= 0
    places[found] = dues[places[found]]
    return places


def _acquainted(take: TakeArrays) -> tuple[PlayerModel, float]:
    """Return the player's habits and lag as the start of the take shows them."""
    follower = Follower()
    return follower.habits, _lag_at(take, follower, 0, FIRST_HITS) or 0.0


def _runs_away(take: TakeArrays, known: PlayerModel, lag_s: float) -> bool:
    """Return whether the lag anywhere is too far from the first for the arrays to believe it."""
    for first in np.linspace(0, len(take.hit_s) - SAMPLE, SAMPLES + 1).astype(int)[1:]:
        follower = Follower(known.copy(known.variance), lag_s)
        lag = _lag_at(take, follower, int(first), SAMPLE)
        if lag is not None and abs(lag - lag_s) > NEAR_LAG_S:
            return True
    return False


def _lag_at(take: TakeArrays, follower: Follower, first: int, count: int) -> float | None:
    """Return the median lag of some hits, None where none is for a target."""
    hits = np.arange(first, min(first + count, len(take.hit_s)))
    ends = take.hit_s[hits[0]] - like.LAG_RANGE_S, take.hit_s[hits[-1]] + like.LAG_RANGE_S
    told = _followed(take, follower, hits, np.arange(*np.searchsorted(take.due_s, ends)))
    found = told >= 0
    return (
        float(np.median(take.hit_s[hits[found]] - take.due_s[told[found]])) if found.any() else None
    )


def _tangles(take: TakeArrays, settled: SettledHits) -> Iterator[tuple[Ints, Ints, bool]]:
    """Yield the hits and the targets of every tangle, and whether the lag is unknown there."""
    told, here = settled.told, take.hit_s - settled.lag
    paired = told >= 0
    here[paired] = take.due_s[told[paired]]
    reach = like.REACH * settled.variance**0.5
    knots = np.concatenate([here[settled.tangled_hit], take.due_s[settled.tangled_due]])
    lost = take.due_s[settled.lost_due]
    starts, ends, far = _merged_spans(
        np.concatenate([knots - reach, lost - LOST_MARGIN_S]),
        np.concatenate([knots + reach, lost + LOST_MARGIN_S]),
        np.concatenate([np.zeros(len(knots), bool), np.ones(len(lost), bool)]),
    )
    dues = _members(take.due_s, starts, ends)
    for which, hits in enumerate(_members(here, starts, ends)):
        if len(hits):
            yield hits, dues[which], bool(far[which])


def _merged_spans(starts: Floats, ends: Floats, lost: Bools) -> tuple[Floats, Floats, Bools]:
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


LONG_PASS = 24
"""A pass of so many onsets is long."""


def passes_played(pattern: Pattern, hits: Sequence[Hit], tempo: float, start_s: float) -> Course:
    """Return as many passes as are played, the last one cut where the playing stops."""
    length_s = float(pattern.length) * seconds_per_quarter(pattern, tempo)
    last_s = max((hit.time_s for hit in hits), default=start_s)
    count = max(1, math.ceil((last_s - start_s) / length_s + 1e-9) + 1)
    course = Course(pattern, tuple(Pass(n, tempo, start_s + n * length_s) for n in range(count)))
    return cut_where_stopped(course, hits)


def take_agreement(course: Course, hits: Sequence[Hit]) -> float:
    """Return twice the pairs over the targets and the hits from the first target to the last.

    A kit may send a second note with every stroke; what comes besides that is counted as a hit.
    """
    targets = course.targets()
    if not targets:
        return 0.0
    hit_target, hit_outcome, _ = match_take(targets, hits)
    first_s, last_s = targets[0].time_s - LAG_RANGE_S, targets[-1].time_s + LAG_RANGE_S
    own = sum(outcome in (PLAYED, RIM) for outcome in hit_outcome)
    odd = sum(
        target is None and outcome == EXTRA and first_s <= hit.time_s <= last_s
        for hit, target, outcome in zip(hits, hit_target, hit_outcome, strict=True)
    )
    odd += max(0, hit_outcome.count(DOUBLE) - len(targets))
    wrong = sum(outcome == WRONG_PAD for outcome in hit_outcome)
    return 2 * own / (len(targets) + own + odd + wrong)


def paired_hits(course: Course, hits: Sequence[Hit]) -> tuple[int, float]:
    """Return how many hits belong to a note, and the spread of their offsets in seconds."""
    targets = course.targets()
    told = zip(hits, match_take(targets, hits)[0], strict=True)
    offsets = [hit.time_s - targets[one].time_s for hit, one in told if one is not None]
    return len(offsets), pstdev(offsets) if offsets else 0.0


def cut_where_stopped(course: Course, hits: Sequence[Hit]) -> Course:
    """Return the course up to where the playing stops.

    It stops at the last stroke that has company: half of the onsets just before it were played.
    A pass that lacks no more than its last onset there (a long one: two) is complete, the rest is
    missed; one of which fewer than three onsets were reached was never begun, unless it is the
    only one.
    """
    targets = course.targets()
    _, _, outcomes = match_take(targets, hits)
    onsets: list[list[int]] = []
    for target in targets:
        if target.note.grace:
            continue
        if onsets and targets[onsets[-1][0]].time_s == target.time_s:
            onsets[-1].append(target.index)
        else:
            onsets.append([target.index])
    played = [any(outcomes[one] != MISSED for one in onset) for onset in onsets]
    end = _last_in_company(played)
    if end is None:
        return replace(course, passes=course.passes[:1])
    place = targets[onsets[end][0]].pass_index
    own = [n for n, onset in enumerate(onsets) if targets[onset[0]].pass_index == place]
    left = own[-1] - end
    if left <= (2 if len(own) >= LONG_PASS else 1):
        return replace(course, passes=course.passes[: place + 1])
    if place and end - own[0] + 1 < 3:
        return replace(course, passes=course.passes[:place])
    cut_s = math.nextafter(targets[onsets[end][-1]].time_s, math.inf)
    cut = replace(course.passes[place], end_s=cut_s)
    return replace(course, passes=(*course.passes[:place], cut))


def _last_in_company(played: Sequence[bool], span: int = 6) -> int | None:
    """Return the last played onset with at least half of the span before it played."""
    for end in range(len(played) - 1, -1, -1):
        before = played[max(0, end - span + 1) : end + 1]
        if (
            played[end]
            and 2 * sum(before) >= len(before)
            and sum(before[-3:]) * 2 >= len(before[-3:])
        ):
            return end
    return None
