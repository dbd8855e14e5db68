"""Where and how loud strokes are due: swing, tempo changes, dynamics, worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.midi.simulated_player import simulated_take
from trainer.pattern.as_played import PlayedPlaces, loudness, played_places
from trainer.pattern.language import notation
from trainer.pattern.model import Bar, Dynamic, Meter, Note, Pattern, Swing, TempoChange
from trainer.practice.align import align
from trainer.practice.click_figure import Beat, ClickFigure, DueClick
from trainer.practice.course import Pass, pass_beats, pass_end, pass_targets
from trainer.practice.matcher import match_take
from trainer.toml_text import parse

BARS = (Bar(Fraction(0), Meter(4, 4)), Bar(Fraction(4), Meter(4, 4)))
EIGHTHS = tuple(Note(Fraction(i, 2), "ride", value="8") for i in range(16))


def eighths(**feel: object) -> Pattern:
    """Return two bars of eighths at 60 BPM, so that a quarter is a second."""
    return replace(Pattern("e", "E", BARS, EIGHTHS), **feel)


def seconds(pattern: Pattern, tempo: float = 60.0) -> list[float]:
    """Return when the strokes of a pass are due."""
    return [target.time_s for target in pass_targets(pattern, Pass(0, tempo, 0.0), 0)]


def test_straight_patterns_are_played_where_they_are_written() -> None:
    """Without swing and changes of tempo nothing moves, to the last bit."""
    pattern = eighths()

    assert seconds(pattern) == [i / 2 for i in range(16)]
    assert played_places(pattern).written(3.7) == 3.7


def test_swung_eighths_take_two_thirds_and_one_third() -> None:
    """2:1 puts every off-beat eighth on the third triplet, at any tempo."""
    swung = eighths(swing=(Swing(Fraction(0), Fraction(8)),))

    expected = [beat + part for beat in range(8) for part in (0, 2 / 3)]
    assert seconds(swung) == pytest.approx(expected)
    assert seconds(swung, 120) == pytest.approx([one / 2 for one in expected])


def test_swing_ends_where_it_ends_and_leaves_tuplets_alone() -> None:
    """The second bar is straight, and a triplet in the first is at its thirds."""
    notes = (
        Note(Fraction(1, 3), "snare", value="8t"),
        Note(Fraction(1, 2), "ride", value="8"),
        Note(Fraction(3, 4), "snare", value="16"),
        Note(Fraction(9, 2), "ride", value="8"),
    )
    swung = Pattern(
        "e", "E", BARS, notes, swing=(Swing(Fraction(0), Fraction(4), "8", Fraction(3, 5)),)
    )

    assert seconds(swung) == pytest.approx([1 / 3, 0.6, 0.8, 4.5])


def test_half_a_pair_at_the_end_of_a_bar_is_straight() -> None:
    """In 3/8 the first two eighths swing and the third is on its own."""
    bars = (Bar(Fraction(0), Meter(3, 8)), Bar(Fraction(3, 2), Meter(3, 8)))
    notes = tuple(Note(Fraction(i, 2), "ride", value="8") for i in range(6))
    swung = Pattern(
        "e", "E", bars, notes, swing=(Swing(Fraction(0), Fraction(3), "8", Fraction(3, 4)),)
    )

    assert seconds(swung) == pytest.approx([0, 0.75, 1, 1.5, 2.25, 2.5])


def test_a_tempo_twice_as_fast_takes_half_the_time() -> None:
    """The second bar at 120 of 60 takes two seconds; at 30 of 60 all is twice as long."""
    faster = eighths(tempo_changes=(TempoChange(Fraction(4), 120.0),))

    assert seconds(faster)[8:] == [4 + i / 4 for i in range(8)]
    assert pass_end(faster, Pass(0, 60.0, 0.0)) == 6.0
    assert pass_end(faster, Pass(0, 30.0, 0.0)) == 12.0


def test_an_accelerando_shortens_every_beat_by_as_much() -> None:
    """From 60 to 120 over four beats: 15/16, 13/16, 11/16 and 9/16 of a second, then halves."""
    faster = eighths(tempo_changes=(TempoChange(Fraction(0), 60.0, Fraction(4), 120.0),))
    beats = seconds(faster)[::2]

    steps = [two - one for one, two in pairwise(beats)]
    assert steps == pytest.approx([15 / 16, 13 / 16, 11 / 16, 9 / 16, 0.5, 0.5, 0.5])


@given(
    st.floats(20, 400),
    st.floats(20, 400),
    st.fractions(Fraction(1, 2), Fraction(5, 6)),
    st.floats(0, 1),
)
def test_every_place_comes_back(tempo: float, to: float, share: Fraction, part: float) -> None:
    """`written` undoes `at` everywhere, and a later place is played later."""
    pattern = eighths(
        swing=(Swing(Fraction(0), Fraction(8), "16", share),),
        tempo_changes=(
            TempoChange(Fraction(1), tempo, Fraction(5), to),
            TempoChange(Fraction(6), 60.0),
        ),
    )
    places = PlayedPlaces(pattern)
    beat = 8 * part

    assert places.written(places.at(beat)) == pytest.approx(beat, abs=1e-6)
    assert places.at(beat) < places.at(beat + 0.01)


def clicks(parts: int, beat: Beat) -> list[DueClick]:
    """Return the clicks of a beat of so many parts."""
    return ClickFigure(((parts, 1),)).clicks(beat, 0, silent=False)


def test_the_click_swings_where_it_has_as_many_parts() -> None:
    """Two parts swing with the eighths, three stay triplets, four go along by pairs."""
    beat = pass_beats(
        eighths(swing=(Swing(Fraction(0), Fraction(8), "8", Fraction(3, 5)),)), Pass(0, 60.0, 0.0)
    )[1]

    assert [one.time_s for one in clicks(2, beat)] == pytest.approx([1, 1.6])
    assert [one.time_s for one in clicks(3, beat)] == pytest.approx([1, 4 / 3, 5 / 3])
    assert [one.time_s for one in clicks(4, beat)] == pytest.approx([1, 1.3, 1.6, 1.8])


def test_beat_groups_are_clicked() -> None:
    """In 7/8 of 3+2+2 the first, fourth and sixth eighth begin a group."""
    pattern = Pattern("e", "E", (Bar(Fraction(0), Meter(7, 8, (3, 2, 2))),), EIGHTHS[:7])
    kinds = [beat.kind for beat in pass_beats(pattern, Pass(0, 60.0, 0.0))]

    assert kinds == ["accent", "sub", "sub", "beat", "sub", "beat", "sub"]


def test_a_crescendo_gets_louder_from_beat_to_beat() -> None:
    """p to f over four beats goes through mp and mf; before the first mark nothing is written."""
    pattern = eighths(
        dynamics=(Dynamic(Fraction(1), "p", Fraction(4), "f"), Dynamic(Fraction(6), "ppp"))
    )

    found = [loudness(pattern, Fraction(beat)) for beat in range(8)]
    assert found == [None, 2.0, 3.0, 4.0, 5.0, 5.0, 0.0, 0.0]


GROOVE = """
swing = "8 2:1"
[bars]
value = "8"
sticking = "RRBR RRBR"
hihat = "xxxx xxxx"
snare = "--x- --x-"
kick = "x--x x---"
[[section]]
times = 3
[[section]]
tempo = "to 120"
"""


@pytest.mark.parametrize("tempo", [84.0, 110.0])
def test_a_recorded_take_is_found_with_its_swing_and_its_accelerando(tempo: float) -> None:
    """The search finds tempo and start of strokes that are swung and get faster, and pairs all."""
    written = notation.read(parse(f"tempo = 90\n{GROOVE}"), "groove")
    played = simulated_take(
        replace(
            written,
            tempo=tempo,
            tempo_changes=tuple(
                replace(one, tempo=one.tempo * tempo / 90, to=one.to * tempo / 90)
                for one in written.tempo_changes
            ),
        )
    )
    found = align(written, played.hits)

    assert found.course.passes[0].tempo == pytest.approx(tempo, rel=0.005)
    assert found.course.passes[0].start_s == pytest.approx(1.0, abs=0.02)
    outcomes = match_take(found.course.targets(), played.hits)[2]
    assert outcomes.count("played") > 0.95 * len(outcomes)
