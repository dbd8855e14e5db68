from __future__ import annotations

import json

from sessions import pattern, strikes

from trainer.actions.json_documents import take_document
from trainer.kit.model import GENERAL_MIDI
from trainer.practice.course import Course, Pass
from trainer.practice.matcher import judge


def test_shape_of_a_take() -> None:
    """The document has the promised keys, exact beats, and indexes that point at each other."""
    course = Course(pattern(), (Pass(0, 120.0, 2.0),))
    played = strikes(2.0, count=15)

    document = take_document(judge(course, played, GENERAL_MIDI), {"clean": {"clean": None}})

    keys = ["pattern", "tempo", "start_s", "targets", "hits", "clean", "summary"]
    assert list(document) == keys
    assert (document["pattern"], document["tempo"], document["start_s"]) == (
        "between-runs",
        120.0,
        2.0,
    )
    second = document["targets"][1]
    assert {key: value for key, value in second.items() if key != "offset_ms"} == {
        "index": 1,
        "pass": 0,
        "beat": "1/4",
        "time_s": 2.125,
        "voice": "snare",
        "limb": "LH",
        "outcome": "played",
        "hit": 1,
    }
    assert abs(second["offset_ms"] - 3.0) < 1e-3
    assert document["hits"][1] == {
        "index": 1,
        "time_s": played[1].time_s,
        "note": 38,
        "velocity": 91,
        "voice": "snare",
        "outcome": "played",
        "target": 1,
    }
    missed = document["targets"][15]
    assert (missed["outcome"], missed["hit"], missed["offset_ms"]) == ("missed", None, None)
    json.dumps(document, allow_nan=False)
