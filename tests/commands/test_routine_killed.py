"""A routine killed in the middle of a block is taken up there: the whole program, in real time."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest
from terminals import Terminal, engine_of, wait_for_end, wait_for_strikes

from trainer.archive.session_list import list_sessions
from trainer.cli import run

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")

ROUTINE = """
[[block]]
kind = "warm-up"
pattern = "single-stroke-roll"
tempo = 200
minutes = 0.5

[[block]]
kind = "ladder"
pattern = "single-paradiddle"
from = 120
minutes = 0.4
"""
PASS_S = 1.2
"""One bar of four at 200 BPM."""


def test_killed_inside_a_block_the_next_start_plays_what_is_left_of_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Both sittings together play the block once, within two passes, and then the next block."""
    path, folder = tmp_path / "evening.toml", tmp_path / "sessions"
    path.write_text(ROUTINE)
    asked = ["routine", str(path), "--port", "simulated", "--plain", "--recordings", str(folder)]
    one = Terminal(*asked)
    try:
        one.read_to("Block 1 of 2: warm-up, 0.5 minutes, Single stroke roll")
        wait_for_strikes(folder, 100)
        engine = engine_of(one.process.pid)
        one.process.kill()
        wait_for_end(engine)
    finally:
        one.end()
    (cut_off,) = list_sessions(folder).entries
    assert 6 < cut_off.seconds < 25

    assert run([*asked, "--fast"]) == 0
    reported = capsys.readouterr().out
    assert "Continuing with block 1." in reported
    assert "The routine is done." in reported
    played = list_sessions(folder).entries
    warm_up_s = sum(one.seconds for one in played if one.pattern == "single-stroke-roll")
    assert [entry.pattern for entry in played].count("single-paradiddle") == 1
    assert len(played) == 3
    assert 30 - 2 * PASS_S <= warm_up_s <= 30 + 0.1

    assert run([*asked, "--fast"]) == 0
    assert "Continuing" not in capsys.readouterr().out
