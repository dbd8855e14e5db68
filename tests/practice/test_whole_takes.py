"""Whole takes of several minutes, tangled or empty: each target is given once, and rightly."""

from __future__ import annotations

from dataclasses import replace

import pytest
import takes

from trainer.kit.hits import Hit
from trainer.kit.model import GENERAL_MIDI
from trainer.practice.matcher import judge, match_take, read_hits
from trainer.practice.outcomes import MISSED, PLAYED


def share_right(take: takes.Take) -> float:
    """Return the share of hits that were judged right."""
    return takes.share_right(take, judge(take.course, take.strikes, GENERAL_MIDI).hit_target)


@pytest.mark.parametrize(("changes", "least"), [({"stops": 4}, 0.98), ({"lag": 0.4}, 0.99)])
def test_long_takes_that_stop_or_lag(changes: dict[str, float], least: float) -> None:
    """Minutes with several stops, or half a beat late all along, come out right."""
    assert share_right(takes.draw("walk", 8200, 240.0, **changes)) >= least


def test_a_take_that_runs_away_is_followed() -> None:
    """A player one part in two hundred too fast for minutes is still matched stroke for stroke."""
    take = takes.draw("walk", 8300, 240.0, stray=0.0)
    strikes = [replace(one, time_s=2.0 + (one.time_s - 2.0) / 1.005) for one in take.strikes]

    assert share_right(replace(take, strikes=tuple(strikes))) >= 0.98


def test_no_target_has_two_hits() -> None:
    """However tangled, no target is given twice."""
    take = takes.draw("climb", 8400, 240.0, double=0.3, stray=0.3, wrong=0.2, miss=0.2)

    reported = judge(take.course, take.strikes, GENERAL_MIDI).hit_target
    given = [one for one in reported if one is not None]

    assert len(given) > 1000
    assert len(given) == len(set(given))


def test_long_takes_of_nothing() -> None:
    """Thousands of hits without a target, or beside the only one, are strays and doubles."""
    hits = [Hit(n, n * 0.1, 38, 80, "snare") for n in range(5000)]
    target = takes.lay(takes.roll(), 120.0, 4.0).targets()[0]

    assert set(match_take([], hits)[0]) == {None}
    assert match_take([target], hits)[2] == [PLAYED]
    assert match_take([target], []) == ([], [], [MISSED])
    assert match_take([], []) == ([], [], [])


def test_order_of_the_sequences_does_not_matter() -> None:
    """Targets and hits in another order keep each other."""
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
