"""`trainer ladder`: what it says at its end, and the clock on the wall."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from trainer.cli import run
from trainer.practice.events import Finished
from trainer.screens.app import closing_lines

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

LADDER = ["ladder", "single-paradiddle", "--port", "simulated", "--fast"]


def test_at_the_end_the_course_and_the_ceiling_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every rung's verdict once more, the ceiling before and after, and where the drills are."""
    asked = [*LADDER, "--minutes", "3", "--step", "4", "--recordings", str(tmp_path)]
    assert run([*asked, "--plain"]) == 0
    first = capsys.readouterr().out
    assert "Ceiling, before: no ladder yet; now: " in first
    assert "“trainer advice” writes a drill for each" in first

    assert run([*asked, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    ladder = told["ladder"]
    assert len(ladder["rungs"]) >= 3
    assert all(bool(one["failed"]) is not one["clean"] for one in ladder["rungs"])
    assert ladder["ceiling_before"]["tempo"] > 60
    assert ladder["ceiling_after"] != ladder["ceiling_before"]
    # The screen closes with the same lines: the ladder, then the reading.
    shown = closing_lines(Finished(told["session"], told["summary"]))
    assert shown[0].startswith(f"Ladder: {len(ladder['rungs'])} rungs at ")
    assert shown[-2].startswith("Worth practising")


def test_plain_practice_has_no_ladder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without rungs nothing is said of rungs."""
    asked = ["play", "single-paradiddle", "--port", "simulated", "--fast", "--passes", "2"]
    assert run([*asked, "--json", "--recordings", str(tmp_path)]) == 0
    assert "ladder" not in json.loads(capsys.readouterr().out)
