from __future__ import annotations

import json
from fractions import Fraction

import pytest

from trainer.errors import BadInput
from trainer.pattern.json_data import pattern_from_dict, pattern_to_dict
from trainer.pattern.model import Bar, Level, Limb, Meter, Note, Pattern, Section


def rich_pattern() -> Pattern:
    """Return a pattern that uses every field, with beats no float can hold."""
    bars = (Bar(Fraction(0), Meter(3, 4)), Bar(Fraction(3), Meter(7, 8)))
    notes = (
        Note(Fraction(0), "kick", Limb.RF, value="4"),
        Note(Fraction(1, 3), "snare", Limb.LH, Level.GHOST, "rim", "8t", grace=1),
        Note(Fraction(1, 3), "snare", Limb.RH, Level.ACCENT, "", "8t"),
        Note(Fraction(22, 7), "tom1", None, value="16s"),
    )
    return Pattern(
        "between-runs",
        "Between two runs",
        bars,
        notes,
        (Section("A", 0, 2, 3),),
        "Keeps the hands in shape.",
        ("warm-up",),
        3,
        72.5,
        Fraction(3, 2),
        ("sticking",),
    )


def test_round_trip_is_exact() -> None:
    """A pattern through JSON text comes back equal in every field."""
    pattern = rich_pattern()

    assert pattern == pattern_from_dict(json.loads(json.dumps(pattern_to_dict(pattern))))


@pytest.mark.parametrize(
    ("key", "value", "word"),
    [
        ("bars", [], "bars: must be a list of 1 to"),
        ("bars", ["4/5"], "meter"),
        ("bars", ["4/4/4"], "meter"),
        ("bars", 7, "list"),
        ("notes", [{"beat": "99", "voice": "snare"}], "after the pattern's end"),
        ("notes", [{"beat": "1/0", "voice": "snare"}], "fraction"),
        ("notes", [{"beat": 1, "voice": "snare"}], "fraction"),
        ("notes", [{"beat": "0", "voice": "gong"}], r"notes\[0\]\.voice: must be a drum"),
        ("notes", [{"beat": "0", "voice": "snare", "limb": "XX"}], "limb"),
        ("notes", [{"beat": "0", "voice": "snare", "value": "17"}], "value"),
        ("notes", [{"beat": "0", "voice": "snare", "grace": -1}], "grace"),
        ("notes", ["R"], "table"),
        ("tempo", float("nan"), "tempo"),
        ("tempo", True, "number"),
        ("tempo_unit", "0", "tempo_unit"),
        ("title", None, "title"),
        ("tags", [1], r"tags\[0\]: must be a text"),
        ("sections", [{"first_bar": 1, "bar_count": 2}], "bar_count"),
    ],
)
def test_wrong_values_are_reported(key: str, value: object, word: str) -> None:
    """A value of the wrong kind or size is bad input that names it."""
    row = pattern_to_dict(rich_pattern()) | {key: value}

    with pytest.raises(BadInput, match=word):
        pattern_from_dict(row)
