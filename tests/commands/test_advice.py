"""`trainer advice`: findings of a session, and drills that are ready to run."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from trainer.actions.advice import drill_tempo
from trainer.cli import run
from trainer.pattern.library import load_pattern

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
    reported = json.loads(capsys.readouterr().out)
    assert 1 <= len(reported["advice"]) == len(reported["drills"]) <= 3
    for name in reported["drills"]:
        assert load_pattern(name).strokes >= 32


def test_too_short_a_session_proposes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With too little evidence it says so, and writes no drill."""
    demo = ["demo", "single-stroke-four", "--fast", "--plain", "--passes", "1"]
    assert run([*demo, "--recordings", str(tmp_path)]) == 0
    capsys.readouterr()

    assert run(["advice", "--recordings", str(tmp_path)]) == 0
    reported = capsys.readouterr().out
    assert "Too few strokes" in reported
    assert "Drill" not in reported


def test_a_drill_for_a_hand_is_not_slower_work_than_the_session() -> None:
    """After rungs from 41 to 51 in sixteenths the hand gets nine tenths of 51, not less than 41."""
    finding = {"kind": "hand", "limb": "LH"}
    climbed = {"tempo_low": 41.0, "tempo_high": 51.0}
    roll = load_pattern("single-stroke-roll")

    assert drill_tempo(finding, roll, climbed) == 46
    assert drill_tempo({**finding, "kind": "change"}, roll, climbed) == 33
    assert drill_tempo(finding, roll, {"tempo_low": 20.0, "tempo_high": 20.0}) == 20


def test_a_newest_session_of_no_use_is_passed_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The newest with enough strokes is taken, and which one was passed over is said with why."""
    _demo(tmp_path, 6)
    (useful,) = tmp_path.glob("*.jsonl")
    short = ["demo", "single-stroke-four", "--fast", "--plain", "--passes", "1"]
    assert run([*short, "--recordings", str(tmp_path)]) == 0
    capsys.readouterr()

    assert run(["advice", "--recordings", str(tmp_path), "--json", "--no-drills"]) == 0
    assert json.loads(capsys.readouterr().out)["session"] == useful.name
    assert run(["advice", "--recordings", str(tmp_path), "--no-drills"]) == 0
    reported = capsys.readouterr().out
    assert "The last one, Single stroke four" in reported
    assert "has too few strokes." in reported


def test_a_session_that_still_runs_is_passed_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is not finished is told as such, never as too short."""
    _demo(tmp_path, 6)
    (useful,) = tmp_path.glob("*.jsonl")
    lines = useful.read_bytes().splitlines(keepends=True)
    head = json.loads(lines[0])
    head["started"] = "2099-03-01T18:30:00+00:00"
    (tmp_path / "later.jsonl").write_bytes(json.dumps(head).encode() + b"\n" + lines[1])
    capsys.readouterr()

    assert run(["advice", "--recordings", str(tmp_path), "--no-drills"]) == 0
    reported = capsys.readouterr().out
    assert "1 Mar 2099, 18:30, is still running, or was cut off." in " ".join(reported.split())
    assert "Too few strokes" not in reported
