"""`trainer advice`: findings of a session, and drills that are ready to run."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from trainer.cli import run
from trainer.commands.advice import drill_tempo
from trainer.pattern.files import load

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def _demo(folder: Path, passes: int) -> None:
    demo = ["demo", "--fast", "--plain", "--seed", "2", "--tempo", "90"]
    assert run([*demo, "--passes", str(passes), "--recordings", str(folder)]) == 0


def test_each_finding_has_a_drill_that_can_be_played(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is proposed is written as pattern files that load under the names given."""
    _demo(tmp_path, 6)
    capsys.readouterr()

    assert run(["advice", "--recordings", str(tmp_path), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert 1 <= len(told["advice"]) == len(told["drills"]) <= 3
    for name in told["drills"]:
        assert load(name).strokes >= 32


def test_too_short_a_session_proposes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With too little evidence it says so, and writes no drill."""
    demo = ["demo", "single-stroke-four", "--fast", "--plain", "--passes", "1"]
    assert run([*demo, "--recordings", str(tmp_path)]) == 0
    capsys.readouterr()

    assert run(["advice", "--recordings", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "Too few strokes" in told
    assert "Drill" not in told


def test_a_drill_for_a_hand_is_not_slower_work_than_the_session() -> None:
    """After rungs from 41 to 51 in sixteenths the hand gets nine tenths of 51, not less than 41."""
    finding = {"kind": "hand", "limb": "LH"}
    climbed = {"tempo_low": 41.0, "tempo_high": 51.0}
    roll = load("single-stroke-roll")

    assert drill_tempo(finding, roll, climbed) == 46
    assert drill_tempo({**finding, "kind": "change"}, roll, climbed) == 33
    assert drill_tempo(finding, roll, {"tempo_low": 20.0, "tempo_high": 20.0}) == 20
