from __future__ import annotations

import json
from fractions import Fraction

import pytest

from trainer.errors import BadInput
from trainer.pattern.json_data import pattern_from_dict, pattern_to_dict
from trainer.pattern.model import (
    Bar,
    Dynamic,
    Level,
    Limb,
    Meter,
    Note,
    Pattern,
    Section,
    Swing,
    TempoChange,
)


def rich_pattern() -> Pattern:
    """Return a pattern that uses every field, with beats no float can hold."""
    bars = (Bar(Fraction(0), Meter(3, 4)), Bar(Fraction(3), Meter(7, 8, (3, 2, 2))))
    notes = (
        Note(Fraction(0), "kick", Limb.RF, value="4"),
        Note(Fraction(1, 3), "snare", Limb.LH, Level.GHOST, "rim", "8t", grace=1),
        Note(Fraction(1, 3), "snare", Limb.RH, Level.ACCENT, "", "8t"),
        Note(Fraction(22, 7), "tom1", None, value="16s", buzz=True),
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
        (Swing(Fraction(0), Fraction(3), "16", Fraction(3, 5)),),
        (TempoChange(Fraction(1), 72.5, Fraction(3), 90.0), TempoChange(Fraction(3), 60.0)),
        (Dynamic(Fraction(0), "p", Fraction(2), "ff"), Dynamic(Fraction(3), "mf")),
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
        ("bars", ["7/8 3+3"], "bars: the groups do not add up to 7"),
        ("bars", ["7/8 3++4"], "bars: the groups do not add up"),
        ("swing", [{"start": "0", "end": "3", "value": "8t", "share": "2/3"}], "value"),
        ("swing", [{"start": "0", "end": "3", "value": "8", "share": "7/8"}], "from 1/2 to 5/6"),
        ("swing", [{"start": "2", "end": "2", "value": "8", "share": "2/3"}], "in order"),
        ("swing", [{"start": "2", "end": "99", "value": "8", "share": "2/3"}], "in order"),
        ("tempo_changes", [{"start": "1", "tempo": 80, "end": "2"}], "needs both end and to"),
        ("tempo_changes", [{"start": "1", "tempo": 0}], "tempo"),
        (
            "tempo_changes",
            [{"start": "0", "tempo": 80, "end": "2", "to": 90}, {"start": "1", "tempo": 80}],
            "two of them hold at beat 1",
        ),
        ("dynamics", [{"start": "0", "mark": "loud"}], "mark"),
        ("dynamics", [{"start": "0", "mark": "p", "to": "f"}], "needs both end and to"),
    ],
)
def test_wrong_values_are_reported(key: str, value: object, word: str) -> None:
    """A value of the wrong kind or size is bad input that names it."""
    row = pattern_to_dict(rich_pattern()) | {key: value}

    with pytest.raises(BadInput, match=word):
        pattern_from_dict(row)
