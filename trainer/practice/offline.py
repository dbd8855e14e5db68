"""Matching a whole take at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.practice.follower import Follower
from trainer.practice.matcher import due, hit_outcome, lone_outcome
from trainer.practice.outcomes import MISSED, PLAYED, RIM

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit
    from trainer.practice.course import Target
    from trainer.practice.follower import Due


MOST_UNSETTLED = 200
"""Hits that may wait for a better story in a whole take: far more than any doubt lasts."""


def match(
    targets: Sequence[Target], hits: Sequence[Hit]
) -> tuple[list[int | None], list[str], list[str]]:
    """Return, for a whole take: each hit's target or None, each hit's and each target's outcome.

    Targets and hits are named by their place in the sequences, which may come in any order of time.
    """
    in_time = sorted(range(len(targets)), key=lambda place: targets[place].time_s)
    heard = [place for place in range(len(hits)) if not hits[place].flag]
    heard.sort(key=lambda place: hits[place].time_s)
    told = follow([due(targets[place]) for place in in_time], [hits[place] for place in heard])
    hit_target: list[int | None] = [None] * len(hits)
    hit_outcomes = [hit.flag for hit in hits]
    target_outcomes = [MISSED] * len(targets)
    for place, told_place in zip(heard, told, strict=True):
        if told_place < 0:
            hit_outcomes[place] = lone_outcome(told_place)
            continue
        target = in_time[told_place]
        outcome = hit_outcome(hits[place], targets[target])
        hit_target[place], hit_outcomes[place] = target, outcome
        target_outcomes[target] = PLAYED if outcome == RIM else outcome
    return hit_target, hit_outcomes, target_outcomes


def follow(dues: Sequence[Due], hits: Sequence[Hit]) -> list[int]:
    """Return what each hit was for (a target's place, STRAY or DOUBLE), over a whole take."""
    follower = Follower()
    for one in dues:
        follower.add(one)
    told: list[int] = []
    for hit in hits:
        follower.hit(hit.time_s, hit.voice, hit.voice or hit.note, hit.velocity)
        told += follower.settle(MOST_UNSETTLED)
    return told + follower.settle(0)
