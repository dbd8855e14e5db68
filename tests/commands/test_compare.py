"""`trainer compare`: two sessions of one pattern."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

from trainer.cli import run

if TYPE_CHECKING:
    from pathlib import Path

    import pytest


def _demo(folder: Path, pattern: str, seed: int) -> str:
    """Make a session and return its file's name."""
    before = set(folder.glob("*.jsonl"))
    demo = ["demo", pattern, "--fast", "--plain", "--passes", "3", "--seed", str(seed)]
    assert run([*demo, "--recordings", str(folder)]) == 0
    return (set(folder.glob("*.jsonl")) - before).pop().name


def test_two_sessions_are_reported_side_by_side(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every number of both, as text and as JSON."""
    names = [_demo(tmp_path, "fives-and-threes", seed) for seed in (1, 2)]
    capsys.readouterr()

    assert run(["compare", *names, "--recordings", str(tmp_path), "--json"]) == 0
    reported = json.loads(capsys.readouterr().out)
    assert reported["sessions"] == names
    assert {"mean offset", "spread"} <= {one["name"] for one in reported["changes"]}
    assert run(["compare", *names, "--recordings", str(tmp_path)]) == 0
    assert "more than chance" in capsys.readouterr().out


def test_nothing_is_compared_finer_than_it_was_taken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Times are rounded to what either session's stamps allow, and a line says why."""
    names = [_demo(tmp_path, "fives-and-threes", seed) for seed in (1, 2)]
    coarse = tmp_path / names[0]
    text = coarse.read_text()
    assert '"timing":{}' in text
    coarse.write_text(text.replace('"timing":{}', '"timing":{"resolution_ms":4.0}', 1))
    capsys.readouterr()

    assert run(["compare", *names, "--recordings", str(tmp_path)]) == 0
    reported = capsys.readouterr().out
    assert "steps of 5 ms" in reported
    row = next(line for line in reported.splitlines() if line.startswith("mean offset"))
    first, second = re.findall(r"(-?[\d.]+) ms", row)[:2]
    assert float(first) % 5 == 0
    assert float(second) % 1 == 0


def test_two_patterns_cannot_be_compared(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Different patterns are refused with both names."""
    names = [_demo(tmp_path, one, 1) for one in ("fives-and-threes", "single-stroke-four")]

    assert run(["compare", *names, "--recordings", str(tmp_path)]) == 2
    assert "different patterns" in capsys.readouterr().err


def test_a_recorded_take_is_compared_with_a_session(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A take of the pattern, found in its MIDI file, stands beside the session."""
    name = _demo(tmp_path, "fives-and-threes", 1)
    take = tmp_path / "student.mid"
    assert run(["patterns", "export", "fives-and-threes", "-o", str(take)]) == 0
    capsys.readouterr()
    command = ["compare", str(take), name, "--pattern", "fives-and-threes"]

    assert run([*command, "--recordings", str(tmp_path), "--json"]) == 0
    reported = json.loads(capsys.readouterr().out)
    assert reported["sessions"] == ["student.mid", name]
    spread = next(one for one in reported["changes"] if one["name"] == "spread")
    assert spread["first"]["value"] < 1 < spread["second"]["value"]
    assert run(["compare", str(take), name, "--recordings", str(tmp_path)]) == 2
    assert "--pattern" in capsys.readouterr().err


def test_a_session_is_not_compared_with_itself(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two parts of one name choose one session twice, which would show that nothing changed."""
    name = _demo(tmp_path, "single-stroke-four", 1)

    assert run(["compare", name, name[:8], "--recordings", str(tmp_path)]) == 2
    assert "both are the same" in capsys.readouterr().err
