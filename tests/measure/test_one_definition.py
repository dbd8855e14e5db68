"""Verdict and reading measure the same things: one is plain Python, the other arrays.

Random takes with two, three and four limbs: strokes missed, on a wrong pad, on a rim, strays inside
and outside the take.
"""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import combinations
from random import Random
from typing import TYPE_CHECKING

import numpy as np
import pytest
from handmade import course, judged, line, pattern

from trainer.measure.clean import clean_verdict
from trainer.measure.evenness import even_pairs
from trainer.measure.reading import count_outcomes, read_take
from trainer.measure.stroke import interval_errors, judged_strokes, unison_gaps
from trainer.measure.take_arrays import take_arrays
from trainer.measure.unison import unison_strokes, unisons

if TYPE_CHECKING:
    from trainer.pattern.model import Note
    from trainer.practice.outcomes import Judged

VOICES = {"R": ("hihat", "ride", "snare"), "L": ("snare", "tom1"), "K": ("kick",), "H": ("pedal",)}


def written_line(random: Random, limb: str) -> list[Note]:
    """One limb's line of one or two note values over two bars, with rests."""
    notes = []
    for bar in range(2):
        value, count = random.choice([("4", 4), ("8", 8), ("8t", 12), ("16", 16)])
        words = (random.choice((*VOICES[limb], "-")) for _ in range(count))
        notes += line(" ".join(words), value=value, limbs=limb, start=Fraction(4 * bar))
    return notes


def random_take(seed: int) -> Judged:
    """A take of one to three passes by two, three or four limbs."""
    random = Random(seed)
    limbs = random.choice(["RK", "RL", "RLK", "RKH", "RLKH"])
    fates = ["played"] * 12 + ["wrong pad", "rim"]
    kinds = ["extra", "extra", "double", "crosstalk"]
    extras = [(random.uniform(0, 20), random.choice(kinds)) for _ in range(random.randrange(7))]
    return judged(
        course(pattern(*(written_line(random, limb) for limb in limbs), bars=2), seed % 3 + 1),
        offset_ms=lambda target: None if random.random() < 0.1 else random.gauss(3.0, 12.0),
        outcome=lambda target: random.choice(fates),
        extras=extras,
    )


TAKES = [random_take(seed) for seed in range(200)]


def test_gaps_of_the_verdict_are_those_of_the_reading() -> None:
    """Every two limbs that landed together give the same gap to both, sign included."""
    judged_gaps = 0
    for made in TAKES:
        strokes = [one for one in judged_strokes(made) if one.outcome == "played"]
        frame = take_arrays(made)
        first, second = unison_strokes(frame)
        theirs = frame.offset_ms[first] - frame.offset_ms[second]
        assert sorted(unison_gaps(strokes).gaps) == pytest.approx(sorted(theirs.tolist()))
        assert sum(one.flams.count for one in unisons(frame).by_limbs.values()) == len(theirs)
        for check in clean_verdict(made).checks:
            if check.name == "gap":
                judged_gaps += 1
                assert check.measured == pytest.approx(math.sqrt(np.mean(theirs**2)))
    assert judged_gaps > 50


def test_intervals_of_the_verdict_are_those_of_the_reading() -> None:
    """The same neighbours, however note values are mixed."""
    intervals = 0
    for made in TAKES:
        hands = [one for one in judged_strokes(made) if one.outcome == "played"]
        hands = [one for one in hands if one.part == "hands"]
        frame = take_arrays(made)
        first, second = even_pairs(frame)
        errors = frame.offset_ms[second] - frame.offset_ms[first]
        assert sorted(interval_errors(hands)) == pytest.approx(sorted(errors.tolist()))
        assert list(first) == sorted(first)
        intervals += len(errors)
    assert intervals > 1000


def test_counts_of_the_verdict_are_those_of_the_reading() -> None:
    """Missed, wrong pads, strays and rims are as many in both."""
    for made in TAKES:
        checks = {one.name: one.measured for one in clean_verdict(made).checks}
        counts = count_outcomes(made)
        theirs = counts.missed, counts.wrong_pad, counts.extra, counts.rim
        assert tuple(checks[key] for key in ("missed", "wrong_pad", "stray", "rim")) == theirs
        outside = made.hit_outcome.count("extra") - counts.extra
        assert outside == counts.before + counts.after


def test_the_widest_of_three_gaps_counts() -> None:
    """Snare 12 ms after the hi-hat and kick 12 ms before it: 24 ms between them are a flam."""
    late = {"hihat": 0.0, "snare": 12.0, "kick": -12.0}
    lines = [line(f"{voice} " * 16, limbs=limb) for voice, limb in zip(late, "RLK", strict=True)]
    made = judged(course(pattern(*lines), 4), offset_ms=lambda target: late[target.note.voice])

    found = clean_verdict(made)
    assert [one.name for one in found.failed] == ["gap"]
    flams = {name: gap.flams.value for name, gap in read_take(made).unisons.by_limbs.items()}
    assert flams == {"RH+LH": 0.0, "RH+RF": 0.0, "LH+RF": 100.0}


def test_ghost_notes_between_do_not_break_the_eighths() -> None:
    """A hi-hat in eighths is as even with sixteenth ghost notes between as without."""
    late = iter([0.0, 10.0] * 16)
    eighths = line("hihat " * 8, value="8", limbs="R")
    ghosts = line("- snare " * 8, limbs="L")
    made = judged(
        course(pattern(eighths, ghosts), 2),
        offset_ms=lambda target: next(late) if target.note.voice == "hihat" else 0.0,
    )

    figure = read_take(made).evenness.by_value["8"].spread
    assert figure.count == 14
    assert figure.value == pytest.approx(np.std([10.0, -10.0] * 3 + [10.0], ddof=1), rel=0.1)


def test_a_lead_in_is_no_stray_but_a_stroke_in_a_rest_is() -> None:
    """Strokes in the pattern's own rests count, strokes before and after the take do not."""
    rests = course(pattern(line("- " * 8 + "snare " * 4), bars=1))
    extras = [(0.5, "extra"), (2.3, "extra"), (4.3, "extra"), (9.0, "extra")]
    made = judged(rests, extras=extras)

    counts = read_take(made).counts
    assert (counts.before, counts.extra, counts.after) == (1, 2, 1)
    strays = next(one for one in clean_verdict(made).checks if one.name == "stray")
    assert strays.measured == 2


def test_every_two_limbs_of_four_are_a_unison() -> None:
    """Four at once make six pairs, each named hand first and right first."""
    voices = {"R": "ride", "L": "snare", "K": "kick", "H": "pedal"}
    lines = [line(f"{voice} " * 4, value="4", limbs=limb) for limb, voice in voices.items()]
    found = read_take(judged(course(pattern(*lines), 2))).unisons

    names = ["RH", "LH", "RF", "LF"]
    assert {*found.by_limbs} == {f"{one}+{two}" for one, two in combinations(names, 2)}
    assert {gap.mean.count for gap in found.by_limbs.values()} == {8}
