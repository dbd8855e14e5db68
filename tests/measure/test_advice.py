"""What is proposed after a take: planted weaknesses are found, and nothing where there is none."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from trainer.kit.note_map import GENERAL_MIDI
from trainer.measure.advice import Finding, advise
from trainer.measure.figure import plain
from trainer.measure.frame import frame
from trainer.midi.simulated import SimulatedPlayer, Traits
from trainer.pattern.files import load
from trainer.pattern.tables import Limb
from trainer.practice.course import Course, Pass, pass_end
from trainer.practice.take import judge

EVEN = Traits(
    bias_s=-0.004,
    jitter_s=0.008,
    drift_s=0.006,
    miss=0.01,
    wrong_pad=0.008,
    stray=0.005,
    double=0.01,
    rim=0.01,
    power_jitter=7.0,
)
"""A player with a habit, a wander and a fault now and then, alike in all limbs and moves."""

PLANTED = {
    "move": (replace(EVEN, slow_moves={("snare", "tom1"): 0.012}), "snare to tom1"),
    "hand": (replace(EVEN, weak={Limb.LH: 0.5}), "LH"),
    "foot": (replace(EVEN, lag_s={Limb.RF: 0.014}), "RF"),
}


def _proposed(traits: Traits, seed: int, seconds: float = 120) -> tuple[Finding, ...] | None:
    """Advice after a take of the shipped walk around three drums at 100 BPM."""
    pattern = load("singles-three-drums-feet")
    passes: list[Pass] = []
    start_s = 2.0
    while start_s < seconds:
        passes.append(Pass(len(passes), 100.0, start_s, end_s=seconds))
        start_s = pass_end(pattern, passes[-1])
    course = Course(pattern, tuple(passes))
    player = SimulatedPlayer(GENERAL_MIDI, seed, traits)
    player.expect(course.targets())
    strikes = [made for made in player.poll(1e9) if hasattr(made, "velocity")]
    return advise(frame(judge(course, strikes, GENERAL_MIDI)))


@pytest.mark.parametrize("weakness", PLANTED)
def test_a_planted_weakness_is_named_first_in_95_of_100_takes(weakness: str) -> None:
    """A slow move, a weak hand or a foot that lags tops the list after two minutes of playing."""
    traits, name = PLANTED[weakness]
    named = 0
    for seed in range(100):
        proposed = _proposed(traits, seed)
        named += bool(proposed) and name in proposed[0].name

    assert named >= 95


def test_nothing_is_proposed_where_nothing_was_planted_in_95_of_100_takes() -> None:
    """A player alike in all limbs and moves is left alone."""
    assert sum(_proposed(EVEN, seed) == () for seed in range(100)) >= 95


def test_too_little_evidence_proposes_nothing() -> None:
    """A few bars are not enough to say anything."""
    assert _proposed(PLANTED["foot"][0], 1, seconds=8) is None


def test_a_finding_carries_its_evidence() -> None:
    """Who, what, by how much and from how many strokes, in one line; ready for JSON."""
    proposed = _proposed(PLANTED["foot"][0], 3)

    assert proposed
    told = plain(proposed[0])
    assert json.loads(json.dumps(told)) == told
    assert (told["kind"], told["faults"]) == ("foot", ["late"])
    assert " ms later" in told["evidence"][0]
    assert "strokes)" in told["evidence"][0]
