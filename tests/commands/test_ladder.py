"""`trainer ladder`: what it says at its end, and the clock on the wall."""

from __future__ import annotations

import json
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.archive.session_file import open_session
from trainer.cli import run
from trainer.practice.course import pass_end
from trainer.practice.events import Finished
from trainer.screens.practice import closing_of

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

LADDER = ["ladder", "single-paradiddle", "--port", "simulated", "--fast"]


def test_at_the_end_the_course_and_the_ceiling_are_reported(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every rung's verdict once more, the ceiling before and after, and where the drills are."""
    asked = [*LADDER, "--minutes", "3", "--step", "4", "--recordings", str(tmp_path)]
    assert run([*asked, "--plain"]) == 0
    first = capsys.readouterr().out
    assert "Before: no ladder yet." in first
    assert "“trainer advice” writes a drill for each" in first

    assert run([*asked, "--json"]) == 0
    reported = json.loads(capsys.readouterr().out)
    ladder = reported["ladder"]
    assert len(ladder["rungs"]) >= 3
    assert all(bool(one["failed"]) is not one["clean"] for one in ladder["rungs"])
    assert ladder["ceiling_before"]["tempo"] > 60
    assert ladder["ceiling_after"] != ladder["ceiling_before"]
    # The screen closes with the same lines: the ladder, then the reading.
    closing = closing_of(Finished(reported["session"], reported["summary"]))
    shown = closing.lines
    assert [rung.tempo for rung in closing.rungs] == [rung["tempo"] for rung in ladder["rungs"]]
    assert shown[0].startswith(f"Ladder: {len(ladder['rungs'])} rungs at ")
    assert any(line.startswith("Worth practising") for line in shown)


def test_plain_practice_has_no_ladder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without rungs nothing is said of rungs."""
    asked = ["play", "single-paradiddle", "--port", "simulated", "--fast", "--passes", "2"]
    assert run([*asked, "--json", "--recordings", str(tmp_path)]) == 0
    assert "ladder" not in json.loads(capsys.readouterr().out)


def test_a_start_that_nobody_chose_is_not_above_the_top(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The pattern's own tempo gives way to the top; the ladder is over when the top is clean."""
    asked = [*LADDER, "--rule", "steady", "--top", "50", "--seed", "3", "--json"]
    asked += ["--recordings", str(tmp_path)]
    assert run(asked) == 0
    rungs = json.loads(capsys.readouterr().out)["ladder"]["rungs"]
    assert {one["tempo"] for one in rungs} <= {49.0, 50.0}
    last = {"tempo": 50.0, "clean": True, "failed": []}
    assert last.items() <= rungs[-1].items()
    assert rungs[-1]["strokes"] >= 32
    assert ", limit " in rungs[-1]["tightest"]


def test_the_last_rung_ends_before_the_bell_and_rests_come_when_they_are_due(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Three minutes with 15 s off every 45: over by then, and never longer without a rest."""
    asked = [
        *LADDER,
        "--passes",
        "4",
        "--step",
        "1",
        "--minutes",
        "3",
        "--rest-every",
        "0.75",
        "--rest",
        "0.25",
        "--from",
        "90",
    ]
    assert run([*asked, "--plain", "--recordings", str(tmp_path)]) == 0
    reported = capsys.readouterr().out
    (path,) = tmp_path.glob("*.jsonl")
    session = open_session(path)
    starts, ends = {}, {}
    for one in session.passes:
        starts.setdefault(one.rung, one.start_s)
        ends[one.rung] = pass_end(session.pattern, one)
    rungs = sorted(starts)
    longest_s = max(ends[rung] - starts[rung] for rung in rungs)
    quiet_s = [starts[rung] - ends[rung - 1] for rung in rungs[1:]]
    rested = [0, *(rung for rung, quiet in zip(rungs[1:], quiet_s, strict=True) if quiet > 15)]
    stretches_s = [ends[end - 1] - starts[start] for start, end in pairwise([*rested, len(rungs)])]

    assert 180 - 15 - 2 * longest_s < ends[rungs[-1]] - starts[0] <= 180
    assert reported.count("Rest: 15 seconds.") == len(rested) - 1 == 2
    assert max(stretches_s) < 45 + 2 * longest_s
    assert " BPM, 2 min left." in reported
