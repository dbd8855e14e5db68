from __future__ import annotations

import json

import pytest

from trainer.errors import BadInput
from trainer.kit.hit_filter import CrosstalkRule, DoubleRule, FilterRules
from trainer.kit.hits import Controllers, Pedal, PowerCurve
from trainer.kit.model import GENERAL_MIDI, Kit, Pad, kit_from_dict, kit_to_dict


@pytest.mark.parametrize(
    "kit",
    [
        GENERAL_MIDI,
        Kit("mine", "Mine", {60: Pad("snare", "rim")}, {}, -0.0123456789),
        Kit(
            rules=FilterRules(
                {"snare": DoubleRule(0.0123, 0.61)}, (CrosstalkRule("floor", "tom1", 0.004, 0.3),)
            ),
            power={Pad("snare", "rim"): PowerCurve(31.5, 70.25, 118.0)},
        ),
        Kit(controllers=Controllers(Pedal(4, 127, 3, zones=True))),
    ],
)
def test_round_trip_is_exact(kit: Kit) -> None:
    """A kit through JSON text comes back equal in every field."""
    assert kit == kit_from_dict(json.loads(json.dumps(kit_to_dict(kit))))


@pytest.mark.parametrize(
    ("key", "value", "word"),
    [
        ("notes", {"128": ["snare", "head"]}, "0 to 127"),
        ("notes", {"٣": ["snare", "head"]}, "0 to 127"),
        ("notes", {"38": ["gong", "head"]}, "note 38"),
        ("notes", {"38": "snare"}, "note 38"),
        ("notes", [], "named values"),
        ("stand_ins", {"tom0": "gong"}, "gong"),
        ("stand_ins", {"tom0": []}, "text"),
        ("latency_s", 2.0, "latency_s"),
        ("doubles", {"snare": [0.01]}, "2 numbers"),
        ("doubles", {"gong": [0.01, 0.5]}, "unknown voice"),
        ("crosstalk", [["snare", "tom1", 0.01]], "two voices"),
        ("crosstalk", [["snare", {}, 0.01, 0.5]], "unknown voice"),
        ("power", [["snare", "head", 1, 2, "x"]], "number"),
        ("pedal", {"controller": 4, "closed": 128, "open": 0}, "closed"),
        ("pedal", {"controller": 4, "closed": 7, "open": 7}, "same value"),
    ],
)
def test_wrong_values_are_told(key: str, value: object, word: str) -> None:
    """A value of the wrong kind or size is bad input that names it."""
    with pytest.raises(BadInput, match=word):
        kit_from_dict(kit_to_dict(GENERAL_MIDI) | {key: value})
