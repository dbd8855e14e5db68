"""What a pattern asks of the body: counts, moves and warnings, checked against counts by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trainer import toml_text
from trainer.kit.voices import VOICES
from trainer.pattern import description, library
from trainer.pattern.language import notation
from trainer.pattern.model import Limb

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern


def pattern(source: str) -> Pattern:
    """Return the pattern of a TOML text."""
    return notation.read(toml_text.parse(source), "test", source)


def test_strokes_are_counted_by_limb_and_drum() -> None:
    """Twelve bars of 16: 96 strokes a hand; of each bar 10 on the snare, 3 on each tom."""
    asked = description.demand(library.load_pattern("fives-and-threes"))

    assert asked.limbs == {Limb.RH: 96, Limb.LH: 96}
    assert asked.voices == {"tom2": 36, "snare": 120, "floor": 36}
    assert asked.warnings == ()


def test_grace_strokes_are_counted_apart() -> None:
    """A flam is one stroke and one grace stroke, a drag one stroke and two."""
    asked = description.demand(pattern('[hands]\nvalue = "2"\nsticking = "lR rrL"'))

    assert (asked.limbs, asked.graces) == ({Limb.RH: 1, Limb.LH: 1}, 3)


def test_moves_are_steps_of_one_hand_between_drums() -> None:
    """R L R L over ride ride floor floor: each hand goes ride to floor twice and back once."""
    asked = description.demand(pattern('[hands]\nvalue = "8"\npath = "ride x2, floor x2"'))

    assert asked.moves == {
        (Limb.RH, "ride", "floor"): 2,
        (Limb.LH, "ride", "floor"): 2,
        (Limb.RH, "floor", "ride"): 1,
        (Limb.LH, "floor", "ride"): 1,
    }


WARNED = {
    "three hands": (
        '[bars]\nvalue = "4"\nsnare = "-x--"\nride = "-x--"\ncrash = "-x--"',
        "3 strokes of the hands at once: crash, ride, snare (bar 1, beat 2)",
    ),
    "one hand twice": (
        '[bars]\nvalue = "4"\nsnare = "--R-"\nride = "--R-"',
        "the right hand strikes ride and snare at once (bar 1, beat 3)",
    ),
    "both on one drum": ('[hands]\nvalue = "4"\nsticking = "B"', "both hands on the snare"),
    "far and fast": (
        'tempo = 200\n[hands]\nvalue = "16"\nsticking = "R"\npath = "crash floor"',
        "the right hand has 75 ms from crash to floor",
    ),
}


@pytest.mark.parametrize("name", WARNED)
def test_what_no_body_can_do_is_warned_of_and_not_banned(name: str) -> None:
    """The pattern is read all the same, and the warning names what, where and the bound."""
    source, words = WARNED[name]
    warnings = description.demand(pattern(source)).warnings

    assert any(words in warning for warning in warnings)


def test_a_far_drum_is_no_matter_where_there_is_time() -> None:
    """The same way at a third of the tempo is not warned of; the tempo can be given."""
    made = pattern('tempo = 200\n[hands]\nsticking = "R"\npath = "crash floor"')

    assert description.demand(made).warnings
    assert not description.demand(made, tempo=66).warnings


def test_the_same_warning_is_reported_once_with_its_number() -> None:
    """Four bars of both hands on one drum give one warning that says how often."""
    (warning,) = description.demand(pattern('[hands]\nvalue = "4"\nsticking = "B"')).warnings

    assert warning.endswith("(bar 1, beat 1, 4 times)")


def test_near_and_far_drums_of_an_ordinary_kit() -> None:
    """Snare and high tom are near, crash and floor tom are far (common practice, no source)."""
    assert (
        description.drum_distance("snare", "tom1")
        < description.FAR_M
        < description.drum_distance("crash", "floor")
    )
    assert all(description.drum_distance(voice, voice) == 0 for voice in VOICES)
