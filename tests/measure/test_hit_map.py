"""The hit map: counts, distributions and power of every written note, over any part of a take."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.hit_map import LandedTargets, cell_figures, landed_targets, note_counts, part
from trainer.pattern.model import Bar, Limb, Meter, Note, Pattern
from trainer.practice.course import Course, Pass
from trainer.practice.matcher import judge

EDGES_MS = (-10.0, 10.0)


def taken(*passes: tuple[float | None, float | None], tempo: float = 60.0) -> Course:
    """Return a course of two strokes on the snare a bar, one pass an entry."""
    notes = (Note(Fraction(0), "snare", Limb.RH), Note(Fraction(1), "snare", Limb.LH))
    pattern = Pattern("two", "Two strokes", (Bar(Fraction(0), Meter(2, 4)),), notes)
    return Course(pattern, tuple(Pass(i, tempo, 2.0 * i) for i in range(len(passes))))


def strikes(*passes: tuple[float | None, float | None]) -> list[Strike]:
    """Return hits at these offsets in ms from each pass's strokes, None for a miss."""
    return [
        Strike(2.0 * index + place + offset / 1000, 38, 60 + 10 * place)
        for index, one in enumerate(passes)
        for place, offset in enumerate(one)
        if offset is not None
    ]


PASSES = ((-20.0, 0.0), (-12.0, 30.0), (4.0, None))


@pytest.fixture
def take() -> LandedTargets:
    """Return three passes: early, early, on time on the first stroke; the last second missed."""
    return landed_targets(judge(taken(*PASSES), strikes(*PASSES), GENERAL_MIDI))


def test_counts_and_bins_are_those_of_the_hand(take: LandedTargets) -> None:
    """Every target is counted once, and early is the first bin."""
    counts = note_counts(take, part(take, until_s=math.inf), EDGES_MS)
    assert counts.played.tolist() == [3, 2]
    assert counts.missed.tolist() == [0, 1]
    assert counts.histogram.tolist() == [[2, 1, 0], [0, 1, 1]]
    assert counts.power.tolist() == [60.0, 70.0]


def test_a_part_knows_only_what_had_happened(take: LandedTargets) -> None:
    """A moment in the second pass has none of what came later; one pass alone has only its own."""
    early = note_counts(take, part(take, until_s=2.5), EDGES_MS)
    assert early.played.tolist() == [2, 1]
    alone = note_counts(take, part(take, until_s=math.inf, rows=[1]), EDGES_MS)
    assert alone.played.tolist() == [1, 1]


def test_a_cell_says_mean_spread_and_ends(take: LandedTargets) -> None:
    """Mean and sample deviation by hand: -20, -12 and 4 give -9.33 and 12.22."""
    figures = cell_figures(take, part(take, until_s=math.inf), [0], EDGES_MS)
    assert (figures.due, figures.played, figures.missed) == (3, 3, 0)
    assert figures.offset_mean_ms == pytest.approx(-28 / 3, abs=1e-6)
    assert figures.offset_spread_ms == pytest.approx(12.2202, abs=1e-3)
    assert figures.earliest_ms == pytest.approx(-20, abs=1e-6)
    assert figures.latest_ms == pytest.approx(4, abs=1e-6)
    assert figures.histogram == (2, 1, 0)


def test_nothing_played_gives_no_figures(take: LandedTargets) -> None:
    """A cell without a stroke knows no time and no power, and says so by None."""
    figures = cell_figures(take, part(take, until_s=-1.0), [0, 1], EDGES_MS)
    assert figures.due == 0
    assert figures.offset_mean_ms is None
    assert figures.power_spread is None
