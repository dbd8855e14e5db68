"""Whole takes in arrays: the same as stroke by stroke, and the parts they are made of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import takes

from trainer.kit.note_map import GENERAL_MIDI
from trainer.practice.follower import Blow, Due, Follower
from trainer.practice.matcher import blow, due
from trainer.practice.offline import as_take, follow, match, meant, meant_in_arrays
from trainer.practice.outcomes import MISSED
from trainer.practice.take import read_hits

AGREE = {"flams": 0.99, "groove": 0.975}


def dues_and_blows(take: takes.Take) -> tuple[list[Due], list[Blow]]:
    """Return the targets and hits of a take as the matching takes them."""
    hits = read_hits(take.course.pattern, take.strikes, GENERAL_MIDI)
    return [due(one) for one in take.course.targets()], [blow(one) for one in hits]


@pytest.mark.parametrize("kind", list(takes.KINDS))
def test_arrays_agree_with_stroke_by_stroke(kind: str) -> None:
    """On long takes the arrays say what the follower says on 99.5 % of hits.

    Fewer in flams and in a groove whose unisons may land both on one pad: there it is a toss-up.
    """
    take = takes.draw(kind, 8100, 240.0)
    dues, blows = dues_and_blows(take)

    quick = np.maximum(-1, meant_in_arrays(as_take(dues, blows)))
    slow = np.maximum(-1, follow(Follower(), dues, blows))

    assert np.mean(quick == slow) >= AGREE.get(kind, 0.995)


@pytest.mark.parametrize(("changes", "least"), [({"stops": 4}, 0.98), ({"lag": 0.4}, 0.99)])
def test_arrays_leave_what_they_cannot_believe(changes: dict[str, float], least: float) -> None:
    """Stops and far lags in a long take are handed to the follower and still come out right."""
    take = takes.draw("walk", 8200, 240.0, **changes)

    told = meant_in_arrays(as_take(*dues_and_blows(take))).tolist()

    assert takes.share_right(take, tuple(one if one >= 0 else None for one in told)) >= least


def test_a_take_that_runs_away_is_followed() -> None:
    """A player one part in two hundred too fast for minutes is still matched stroke for stroke."""
    take = takes.draw("walk", 8300, 240.0, stray=0.0)
    strikes = [replace(one, time_s=2.0 + (one.time_s - 2.0) / 1.005) for one in take.strikes]
    dues, blows = dues_and_blows(replace(take, strikes=tuple(strikes)))

    told = meant_in_arrays(as_take(dues, blows)).tolist()

    assert takes.share_right(take, tuple(one if one >= 0 else None for one in told)) >= 0.98


def test_no_target_has_two_hits() -> None:
    """However tangled, no target is given twice."""
    take = takes.draw("climb", 8400, 240.0, double=0.3, stray=0.3, wrong=0.2, miss=0.2)
    dues, blows = dues_and_blows(take)

    told = meant_in_arrays(as_take(dues, blows))
    given = told[told >= 0]

    assert len(given) == len(set(given.tolist()))


def test_long_takes_of_nothing() -> None:
    """Thousands of hits without a target, or beside the only one, are strays and doubles."""
    blows = [Blow(n * 0.1, "snare", "snare", 80.0) for n in range(5000)]

    assert max(meant([], blows)) < 0
    assert sum(one >= 0 for one in meant([Due(3.0, "snare", None, "normal")], blows)) == 1


def test_order_of_the_sequences_does_not_matter() -> None:
    """Targets and hits told in another order keep each other."""
    take = takes.draw("walk", 8500, 20.0)
    targets = take.course.targets()
    hits = read_hits(take.course.pattern, take.strikes, GENERAL_MIDI)
    hit_target, hit_outcome, target_outcome = match(targets, hits)

    mirrored = match(targets[::-1], hits[::-1])

    last = len(targets) - 1
    back = [None if one is None else last - one for one in mirrored[0][::-1]]
    assert back == hit_target
    assert mirrored[1][::-1] == hit_outcome
    assert mirrored[2][::-1] == target_outcome
    assert MISSED in target_outcome
