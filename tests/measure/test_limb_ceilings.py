"""Each hand's own ceiling in a ladder, which hand is the limit, and what tempo does to power."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from handmade import judged, line, pattern

from trainer.measure.limb_ceilings import limb_ceilings
from trainer.pattern.model import Limb
from trainer.practice.course import Course, Pass, pass_end

BAR = pattern(line("snare " * 16), line("snare " * 16, start=4))
LEFT, RIGHT = 110.0, 140.0


def ladder(seed: int, left: float = LEFT, right: float = RIGHT, loud: float = 0.0):
    """Sixteen rungs about both ceilings: each hand's jitter passes its limit at its own tempo."""
    rng = np.random.default_rng(seed)
    passes: list[Pass] = []
    start = 1.0
    for rung, tempo in enumerate(np.linspace(90, 160, 18).round()):
        for _ in range(3):
            passes.append(Pass(len(passes), float(tempo), start, rung))
            start = pass_end(BAR, passes[-1])
    # At its ceiling a hand's 9 ms are about what its share of a rung of six bars lets pass.
    own = {Limb.LH: left, Limb.RH: right}
    tempos = [one.tempo for one in passes]

    def offset(target):
        return rng.normal(0, 10.7 * (tempos[target.pass_index] / own[target.note.limb]) ** 3)

    def power(target):
        return 80 + loud * np.log(tempos[target.pass_index] / 90) / np.log(1.1) + rng.normal(0, 4)

    return judged(Course(BAR, tuple(passes)), offset_ms=offset, velocity=power)


def test_the_weaker_hand_is_named_with_its_ceiling() -> None:
    """A left hand that gives way at 110 and a right one at 140: left is the limit, in 9 of 10."""
    found = [limb_ceilings(ladder(seed)) for seed in range(10)]

    assert sum(one.limit == "LH" for one in found) >= 9
    known = [one.hands for one in found if one.hands["LH"].value and one.hands["RH"].value]
    assert all(one["LH"].value < one["RH"].value for one in known)
    assert all(one.together.value <= 1.1 * one.hands["LH"].value for one in found)


def test_equal_hands_have_no_limit() -> None:
    """Both give way at 125: neither is named, in 9 of 10."""
    found = [limb_ceilings(ladder(seed, 125.0, 125.0)) for seed in range(10)]

    assert sum(one.limit == "" for one in found) >= 9


def test_power_that_falls_with_tempo_is_found() -> None:
    """Three steps softer with every 10% of tempo: the interval holds it and leaves out zero."""
    found = [limb_ceilings(ladder(seed, loud=-3.0)) for seed in range(8)]

    assert all(one.louder.high < 0 for one in found)
    assert sum(one.louder.low <= -3.0 <= one.louder.high for one in found) >= 6
    assert sum(one.rougher.low <= 0 <= one.rougher.high for one in found) >= 6


def test_a_take_without_a_ladder_is_withheld() -> None:
    """One tempo, or nothing at all."""
    one = limb_ceilings(judged(Course(BAR, (Pass(0, 100.0, 1.0),))))

    assert one.hands["RH"].why == "needs 6 rungs, has 1"
    assert one.louder.why == "needs 5 tempos, has 1"
    nothing = limb_ceilings(judged(Course(replace(BAR, notes=()), ())))
    assert nothing.cost.value is None
    assert nothing.limit == ""
