"""The pattern language, from TOML text to notes."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import TYPE_CHECKING

import pytest

from trainer import toml_text
from trainer.errors import BadInput, TrainerError
from trainer.pattern.language import notation
from trainer.pattern.model import Level, Limb

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern


def pattern(source: str) -> Pattern:
    """Return the pattern of a TOML text."""
    return notation.read(toml_text.parse(source), "test", source)


def test_sticking_goes_over_the_path_stroke_by_stroke() -> None:
    """The n-th stroke takes the n-th hand and the n-th drum."""
    made = pattern('meter = "5/8"\n[hands]\nsticking = "R L"\npath = "ride x2, tom2 x3, snare x5"')

    assert [note.limb for note in made.notes] == [Limb.RH, Limb.LH] * 5
    assert [note.voice for note in made.notes] == ["ride"] * 2 + ["tom2"] * 3 + ["snare"] * 5
    assert [note.beat for note in made.notes] == [Fraction(i, 4) for i in range(10)]


def test_accents_ghosts_flams_drags_and_both_hands_are_read() -> None:
    """Each spelling of a stroke becomes its level, its grace strokes and its hands."""
    made = pattern('[hands]\nvalue = "4"\nsticking = ">R (L) llR B"')
    notes = [note for note in made.notes if note.beat == 2]

    assert made.notes[0].level == Level.ACCENT
    assert made.notes[1].level == Level.GHOST
    assert [(note.limb, note.grace) for note in notes] == [("LH", 2), ("LH", 1), ("RH", 0)]
    assert {note.limb for note in made.notes if note.beat == 3} == {Limb.RH, Limb.LH}


def test_a_climb_fills_each_bar_with_its_value() -> None:
    """4 8t 16q 16s and back in 4/4: four times 1, 3, 5, 7, 5, 3 and 1 strokes."""
    made = pattern('[hands]\nvalue = "4 8t 16q 16s"\nback = true')
    counted = Counter(int(note.beat // 4) for note in made.notes)

    assert [counted[bar] for bar in range(7)] == [4, 12, 20, 28, 20, 12, 4]


def test_a_sticking_that_does_not_fill_the_bar_is_refused_with_a_length_that_mends_it() -> None:
    """Three strokes do not fill 16 sixteenths; the length named in the message does."""
    with pytest.raises(BadInput, match="does not fill a bar of 4/4") as caught:
        pattern('[hands]\nsticking = "R L L"')

    assert "length = 3" in str(caught.value)
    assert len(pattern('length = 3\n[hands]\nsticking = "R L L"').notes) == 48


def test_every_fault_is_reported_at_once_with_its_line() -> None:
    """Three faults of one file come together, each with its line and key."""
    with pytest.raises(TrainerError) as caught:
        pattern('level = 9\n[hands]\nstickng = "R L"\npath = "snar"')

    text = str(caught.value)
    assert "line 1, level" in text
    assert 'line 3, hands.stickng: unknown key; did you mean "sticking"' in text
    assert 'line 4, hands.path, drum 1: there is no voice "snar"; did you mean "snare"' in text
