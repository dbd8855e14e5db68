"""The whole program on a disk that fails, and two of it at once on one folder."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from disks import small_disk
from patience import LIMIT_S

from trainer.archive.session_file import open_session

ROOT = Path(__file__).resolve().parents[2]

PLAY = ("--port", "simulated", "--plain", "--tempo", "300")
SHORT, LONG = "single-stroke-roll", "fives-and-threes"
"""One bar, and several: twice the long one is more than a small disk holds."""


def start(folder: Path, pattern: str, *args: str) -> subprocess.Popen[str]:
    """Start practice of a pattern that saves into a folder."""
    command = ["play", pattern, *PLAY, "--recordings", str(folder), *args]
    return subprocess.Popen(
        [sys.executable, "-m", "trainer", *command],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


@pytest.mark.parametrize(
    ("options", "pattern", "reason"),
    [("size=12k", LONG, "the disk is full"), ("ro", SHORT, "the disk is read-only")],
)
def test_it_plays_on_and_says_where_it_saved(
    tmp_path: Path, options: str, pattern: str, reason: str
) -> None:
    """On a disk that takes no more the player is told once, plays on, and hears the new place."""
    with small_disk(tmp_path / "disk", options) as folder:
        out, err = start(folder, pattern, "--passes", "2").communicate(timeout=LIMIT_S)
    own = Path(os.environ["TRAINER_HOME"], "recordings")
    (path,) = own.glob("*.jsonl")

    reported = " ".join((out + err).split())
    assert reported.count(f"cannot be written to {folder}: {reason}") == 1
    assert f"The session is saved in another place: {path}" in reported
    assert f"Saved: {path}" in out
    assert "Traceback" not in reported
    session = open_session(path)
    assert session.summary
    assert session.summary["passes"] == 2


def test_a_folder_deleted_while_playing(tmp_path: Path) -> None:
    """The folder goes away under the program: the whole session is saved elsewhere."""
    folder = tmp_path / "gone"
    process = start(folder, SHORT, "--passes", "4")
    assert process.stdout
    for line in process.stdout:
        if line.startswith("Pass 1"):
            break
    shutil.rmtree(folder)
    out, err = process.communicate(timeout=LIMIT_S)
    (path,) = Path(os.environ["TRAINER_HOME"], "recordings").glob("*.jsonl")

    assert "the folder is gone" in " ".join((out + err).split())
    assert f"Saved: {path}" in out
    assert open_session(path).summary["passes"] == 4


def test_two_at_once(tmp_path: Path) -> None:
    """Two sessions of one pattern on one folder, begun together, are both whole."""
    both = [start(tmp_path, SHORT, "--passes", "4", "--seed", seed) for seed in ("1", "2")]
    reported = [process.communicate(timeout=LIMIT_S) for process in both]
    sessions = [open_session(path) for path in tmp_path.glob("*.jsonl")]

    assert [process.returncode for process in both] == [0, 0]
    assert [err for _, err in reported] == ["", ""]
    assert len(sessions) == 2
    for session in sessions:
        assert session.summary["passes"] == 4
        assert not session.recovered
    assert sessions[0].strikes != sessions[1].strikes
