from __future__ import annotations

import json

import pytest

from trainer.errors import BadInput
from trainer.kit.hits import Controllers, CrosstalkRule, DoubleRule, FilterRules, Pedal, PowerCurve
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
        ("notes", {"38": ["gong", "head"]}, r"notes\[0\]: must be a drum"),
        ("notes", {"38": "snare"}, r"notes: must be \[a drum"),
        ("notes", [], "named values"),
        ("stand_ins", {"tom0": "gong"}, "stand_ins: must be a drum"),
        ("stand_ins", {"tom0": []}, "stand_ins: must be a drum"),
        ("latency_s", 2.0, "latency_s"),
        ("doubles", {"snare": [0.01]}, r"doubles: must be \[a number"),
        ("doubles", {"gong": [0.01, 0.5]}, "a key that is not a drum"),
        ("crosstalk", [["snare", "tom1", 0.01]], r"crosstalk\[0\]: must be \[a drum"),
        ("crosstalk", [["snare", {}, 0.01, 0.5]], r"crosstalk\[0\]\[1\]: must be a drum"),
        ("power", [["snare", "head", 1, 2, "x"]], "number"),
        ("pedal", {"controller": 4, "closed": 128, "open": 0}, "closed"),
        ("pedal", {"controller": 4, "closed": 7, "open": 7}, "same value"),
    ],
)
def test_wrong_values_are_reported(key: str, value: object, word: str) -> None:
    """A value of the wrong kind or size is bad input that names it."""
    with pytest.raises(BadInput, match=word):
        kit_from_dict(kit_to_dict(GENERAL_MIDI) | {key: value})
