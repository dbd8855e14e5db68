"""Drills are ordinary pattern files that hold what they are for."""

from __future__ import annotations

import tomllib
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from trainer.pattern.drills import (
    DrillPlace,
    change_drill,
    changes_drill,
    foot_drill,
    hand_drill,
    move_drill,
    value_drill,
)
from trainer.pattern.language.notation import read
from trainer.pattern.library import load_pattern
from trainer.pattern.model import NOTE_VALUES, Limb

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern


@pytest.mark.parametrize("limb", [Limb.RH, Limb.LH])
@pytest.mark.parametrize(("start", "end"), [("snare", "floor"), ("tom1", "ride")])
def test_a_move_drill_makes_the_move_again_and_again(limb: Limb, start: str, end: str) -> None:
    """At least one in four strokes of the hand arrives by the move it is made for."""
    pattern = read(tomllib.loads(move_drill(limb, start, end, 60)), "drill")
    path = [note.voice for note in pattern.notes if note.limb == limb]

    assert list(pairwise(path)).count((start, end)) * 4 >= len(path)


@pytest.mark.parametrize("limb", [Limb.RH, Limb.LH])
def test_a_hand_drill_gives_the_hand_more_than_half(limb: Limb) -> None:
    """The weak hand plays more strokes than the other and leads."""
    pattern = read(tomllib.loads(hand_drill(limb, "snare", 60)), "drill")
    own = sum(note.limb == limb for note in pattern.notes)

    assert own > len(pattern.notes) / 2
    assert pattern.notes[0].limb == limb


@pytest.mark.parametrize("limb", [Limb.RH, Limb.LH])
def test_every_part_of_a_hands_drill_keeps_the_hand_at_work(limb: Limb) -> None:
    """Each bar has the strokes of the hand that its tempo is reckoned with."""
    for text in (hand_drill(limb, "snare", 60), move_drill(limb, "snare", "floor", 60)):
        pattern = read(tomllib.loads(text), "drill")
        own = [note.beat for note in pattern.notes if note.limb == limb]
        for bar in pattern.bars:
            inside = [beat for beat in own if bar.start <= beat < bar.start + bar.meter.length]
            assert len(inside) >= 2 * bar.meter.length


DENSE = ["single-stroke-roll", "single-paradiddle", 'single-stroke-roll value="16t"']


@pytest.mark.parametrize("name", [*DENSE, 'single-stroke-roll value="4"', "climb-odd-numbers"])
def test_a_hands_drill_is_slower_than_where_it_broke_and_no_rest(name: str) -> None:
    """Slower in BPM and in strokes a second, by a tenth: less would be no practice."""
    place = DrillPlace(load_pattern(name), 81.0)
    for limb in (Limb.RH, Limb.LH):
        tempo, strokes = place.hand_tempo(limb), place.hand_strokes(limb)
        assert tempo <= 0.9 * 81.0
        for text in (
            hand_drill(limb, "snare", tempo, strokes),
            move_drill(limb, "snare", "floor", tempo, strokes),
        ):
            drill = read(tomllib.loads(text), "drill")
            had = _a_second(place.pattern, limb, 81.0)
            assert 0.9 * had <= _a_second(drill, limb, tempo) + 1e-9
            assert _fastest(drill, limb, tempo) < _fastest(place.pattern, limb, 81.0)


def _fastest(pattern: Pattern, limb: Limb, tempo: float) -> float:
    """Return the strokes a second of a limb where they are nearest to each other."""
    beats = sorted({note.beat for note in pattern.notes if note.limb == limb})
    return 1 / float(min(after - before for before, after in pairwise(beats))) * tempo / 60


@pytest.mark.parametrize("value", ["4", "8", "16"])
def test_a_foots_drill_asks_no_more_of_the_hands_than_they_had(value: str) -> None:
    """Its hands play no faster note value than the session's, and the foot is slower."""
    place = DrillPlace(load_pattern(f'single-stroke-roll value="{value}" feet="samba"'), 100.0)
    tempo, hands = place.foot_tempo(Limb.RF), place.density(Limb.RH, Limb.LH)
    drill = read(tomllib.loads(foot_drill(Limb.RF, "snare", tempo, hands)), "drill")
    both = [note for note in drill.notes if note.limb in (Limb.RH, Limb.LH)]
    fastest = max(
        sum(bar.start <= note.beat < bar.end for note in both) / float(bar.meter.length)
        for bar in drill.bars
    )
    assert fastest <= hands
    assert fastest * tempo < hands * 100.0


def _a_second(pattern: Pattern, limb: Limb, tempo: float) -> float:
    """Return the strokes a second of a limb at a tempo in quarters a minute."""
    own = sum(note.limb == limb for note in pattern.notes)
    return own / float(pattern.length) * tempo / 60


@pytest.mark.parametrize("limb", [Limb.RF, Limb.LF])
def test_a_foot_drill_has_a_hand_on_every_foot_stroke(limb: Limb) -> None:
    """All foot strokes are unisons."""
    pattern = read(tomllib.loads(foot_drill(limb, "snare", 60)), "drill")
    hands = {note.beat for note in pattern.notes if note.limb in (Limb.RH, Limb.LH)}
    feet = [note.beat for note in pattern.notes if note.limb == limb]

    assert len(feet) == 4 * len(pattern.bars)
    assert set(feet) <= hands


def test_a_change_drill_goes_back_and_forth() -> None:
    """Half of all bars are in each value."""
    pattern = read(tomllib.loads(change_drill("8t", "16", "snare", 60)), "drill")

    assert {note.value for note in pattern.notes} == {"8t", "16"}
    assert len(pattern.bars) == 8


@pytest.mark.parametrize("value", NOTE_VALUES)
def test_any_note_value_has_its_drills(value: str) -> None:
    """The bar is one that the values fill, triplets and dotted values too."""
    for other in ("8", "8.", "16q"):
        if other != value:
            text = change_drill(other, value, "snare", 60)
            assert {note.value for note in read(tomllib.loads(text), "drill").notes} == {
                other,
                value,
            }
    alone = read(tomllib.loads(value_drill(value, "snare", 60)), "drill")
    assert sum(note.value == value for note in alone.notes) > 0


def test_a_drill_of_several_changes_makes_each_of_them_alone_first() -> None:
    """Every pair of neighbours is gone through, then all in one sweep."""
    pattern = read(tomllib.loads(changes_drill(["8", "8t", "16"], "snare", 60)), "drill")
    values = [note.value for note in pattern.notes]
    changes = [pair for pair in pairwise(values) if pair[0] != pair[1]]

    assert changes.count(("8", "8t")) >= 3
    assert changes.count(("8t", "16")) >= 3
    assert changes[-2:] == [("8", "8t"), ("8t", "16")]
