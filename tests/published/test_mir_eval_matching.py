"""Matching beside mir_eval 0.8.2 (Raffel and others 2014), where its assumptions hold.

`mir_eval.util.match_events(ref, est, window)` is the largest one-to-one matching within a window:
on clean takes, where no two strokes of a voice are within reach of one target, it is the truth.
"""

from __future__ import annotations

from dataclasses import replace

import mir_eval
import numpy as np
import pytest
import takes

from trainer.kit.model import GENERAL_MIDI
from trainer.practice.matcher import judge
from trainer.practice.outcomes import PLAYED

CLEAN = takes.Player(jitter=0.008, wander=0.006, lag=0.0, miss=0.04, wrong=0, stray=0, double=0)


@pytest.mark.parametrize("kind", ["walk", "climb", "groove"])
@pytest.mark.parametrize("seed", range(3))
def test_played_set_is_that_of_onset_matching(kind: str, seed: int) -> None:
    """On clean takes with missed strokes, the pairs are those of mir_eval, voice by voice."""
    one = takes.KINDS[kind](np.random.default_rng(seed))
    course = takes.lay(one, 75.0, 30.0)
    take = takes.make(course, CLEAN, seed)
    judged = judge(course, take.strikes, GENERAL_MIDI)

    for voice in {target.note.voice for target in judged.targets}:
        due = [target for target in judged.targets if target.note.voice == voice]
        hits = [hit for hit in judged.hits if hit.voice == voice]
        pairs = mir_eval.util.match_events(
            np.array([one.time_s for one in due]), np.array([one.time_s for one in hits]), 0.05
        )
        theirs = {(due[a].index, hits[b].index) for a, b in pairs}
        ours = {
            (one.index, judged.target_hit[one.index])
            for one in due
            if judged.target_outcome[one.index] == PLAYED
        }
        assert ours == theirs


def test_onset_f_measure_of_a_perfect_take_is_one() -> None:
    """A take equal to its course: mir_eval's F-measure is 1 and every target is played."""
    course = takes.lay(takes.walk(), 120.0, 20.0)
    take = takes.make(course, replace(CLEAN, jitter=0.0, wander=0.0, miss=0.0), 1)
    judged = judge(course, take.strikes, GENERAL_MIDI)
    # mir_eval wants strictly one onset a moment here: unisons are one.
    due = np.unique([target.time_s for target in judged.targets])
    hit = np.unique([one.time_s for one in judged.hits])

    assert mir_eval.onset.f_measure(due, hit)[0] == 1.0
    assert set(judged.target_outcome) == {PLAYED}
