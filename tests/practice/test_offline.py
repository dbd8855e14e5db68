"""Whole takes in arrays: the same as stroke by stroke, and the parts they are made of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import takes

from trainer.kit.hits import Hit
from trainer.kit.model import GENERAL_MIDI
from trainer.practice.matcher import read_hits
from trainer.practice.outcomes import MISSED, PLAYED
from trainer.practice.whole_take import match_by_stroke, match_in_arrays, match_take
from trainer.practice.whole_take_arrays import Ints, TakeArrays, take_arrays_of

AGREE = {"flams": 0.99, "groove": 0.975}


def columns(take: takes.Take) -> TakeArrays:
    """Return the columns of a made take."""
    hits = read_hits(take.course.pattern, take.strikes, GENERAL_MIDI)
    return take_arrays_of(take.course.targets(), hits)[0]


def share_right(take: takes.Take, told: Ints) -> float:
    """Return the share of hits that were told right."""
    return takes.share_right(take, tuple(one if one >= 0 else None for one in told.tolist()))


@pytest.mark.parametrize("kind", list(takes.KINDS))
def test_arrays_agree_with_stroke_by_stroke(kind: str) -> None:
    """On long takes the arrays say what the follower says on 99.5 % of hits.

    Fewer in flams and in a groove whose unisons may land both on one pad: there it is a toss-up.
    """
    take = takes.draw(kind, 8100, 240.0)

    quick = np.maximum(-1, match_in_arrays(columns(take)))
    slow = np.maximum(-1, match_by_stroke(columns(take)))

    assert np.mean(quick == slow) >= AGREE.get(kind, 0.995)


@pytest.mark.parametrize(("changes", "least"), [({"stops": 4}, 0.98), ({"lag": 0.4}, 0.99)])
def test_arrays_leave_what_they_cannot_believe(changes: dict[str, float], least: float) -> None:
    """Stops and far lags in a long take are handed to the follower and still come out right."""
    take = takes.draw("walk", 8200, 240.0, **changes)

    assert share_right(take, match_in_arrays(columns(take))) >= least


def test_a_take_that_runs_away_is_followed() -> None:
    """A player one part in two hundred too fast for minutes is still matched stroke for stroke."""
    take = takes.draw("walk", 8300, 240.0, stray=0.0)
    strikes = [replace(one, time_s=2.0 + (one.time_s - 2.0) / 1.005) for one in take.strikes]

    told = match_in_arrays(columns(replace(take, strikes=tuple(strikes))))

    assert share_right(take, told) >= 0.98


def test_no_target_has_two_hits() -> None:
    """However tangled, no target is given twice."""
    take = takes.draw("climb", 8400, 240.0, double=0.3, stray=0.3, wrong=0.2, miss=0.2)

    told = match_in_arrays(columns(take))
    given = told[told >= 0]

    assert len(given) == len(set(given.tolist()))


def test_long_takes_of_nothing() -> None:
    """Thousands of hits without a target, or beside the only one, are strays and doubles."""
    hits = [Hit(n, n * 0.1, 38, 80, "snare") for n in range(5000)]
    target = takes.lay(takes.roll(), 120.0, 4.0).targets()[0]

    assert set(match_take([], hits)[0]) == {None}
    assert match_take([target], hits)[2] == [PLAYED]


def test_order_of_the_sequences_does_not_matter() -> None:
    """Targets and hits told in another order keep each other."""
    take = takes.draw("walk", 8500, 20.0)
    targets = take.course.targets()
    hits = read_hits(take.course.pattern, take.strikes, GENERAL_MIDI)
    hit_target, hit_outcome, target_outcome = match_take(targets, hits)

    mirrored = match_take(targets[::-1], hits[::-1])

    last = len(targets) - 1
    back = [None if one is None else last - one for one in mirrored[0][::-1]]
    assert back == hit_target
    assert mirrored[1][::-1] == hit_outcome
    assert mirrored[2][::-1] == target_outcome
    assert MISSED in target_outcome
