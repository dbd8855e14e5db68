"""`trainer advice`: findings of a session, and drills that are ready to run."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.actions.advice import (
    AdviceRequest,
    broken_at,
    drill_text,
    read_advice,
    save_drill,
)
from trainer.archive.session import RungResult
from trainer.cli import run
from trainer.pattern.library import find_pattern, load_pattern

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


def test_drills_of_one_name_never_overwrite_one_another(tmp_path: Path) -> None:
    """The same drill keeps its name; one of another tempo gets a number."""
    _demo(tmp_path, 6)
    found = read_advice(AdviceRequest(tmp_path))
    finding = found.findings[0]
    name = save_drill(found, finding)
    first = find_pattern(name).read_text()
    assert save_drill(found, finding) == name

    faster = replace(found, summary={**found.summary, "tempo_low": 150.0})
    assert save_drill(faster, finding) == f"{name}-2"
    assert find_pattern(name).read_text() == first != find_pattern(f"{name}-2").read_text()


def test_a_drill_is_slower_than_the_rung_that_failed(tmp_path: Path) -> None:
    """A ladder broke at its slowest failed rung, plain practice at its own tempo."""
    _demo(tmp_path, 6)
    found = read_advice(AdviceRequest(tmp_path))
    assert broken_at(found.session, found.summary) == found.summary["tempo_low"]

    rungs = tuple(RungResult(at, 60.0 + 10 * at, at < 2) for at in range(4))
    climbed = replace(found.session, rungs=rungs)
    assert broken_at(climbed, found.summary) == 80.0
    text = drill_text(found.findings[0], climbed, found.summary)
    assert tomllib.loads(text)["tempo"] < 80.0


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
    """What is not finished is reported as such, never as too short."""
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
