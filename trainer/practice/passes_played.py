"""How many passes of a pattern a take holds, and how well the take agrees with them.

A pass whose very last stroke is missing was played and that stroke is missed; after a player stops
on the way nothing more is due; a stroke alone after the end begins no pass.
"""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import pstdev
from typing import TYPE_CHECKING

from trainer.practice.course import Course, Pass, seconds_per_quarter
from trainer.practice.likelihood import LAG_RANGE_S
from trainer.practice.matcher import match_take
from trainer.practice.outcomes import DOUBLE, EXTRA, MISSED, PLAYED, RIM, WRONG_PAD

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.kit.hits import Hit
    from trainer.pattern.model import Pattern


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
