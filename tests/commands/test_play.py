"""`trainer play`: a pattern practised on a kit, in real time."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from trainer import cli
from trainer.archive.store import open_session
from trainer.archive.summary import judged
from trainer.kit.note_map import GENERAL_MIDI
from trainer.pattern.files import load
from trainer.practice.course import seconds_per_quarter

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

TEMPO = 240


def _start(folder: Path, *args: str) -> subprocess.Popen[str]:
    """Start `trainer play` with plain lines, saving into a folder."""
    command = [sys.executable, "-m", "trainer", "play", *args, "--plain"]
    return subprocess.Popen(
        [*command, "--tempo", str(TEMPO), "--recordings", str(folder)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.getcwd()},
    )


def _read_to(process: subprocess.Popen[str], start: str) -> None:
    """Read lines until one that begins so."""
    assert process.stdout
    for line in process.stdout:
        if line.startswith(start):
            return
    assert process.stderr
    pytest.fail(f"no line {start!r}: {process.stderr.read()}")


@pytest.mark.jack
def test_strokes_of_another_process_are_judged(
    sender: Callable[[str], object], tmp_path: Path
) -> None:
    """Strokes sent over real MIDI are saved, matched to their targets, and even to a few ms."""
    drums = sender("Stage Kit")
    pattern = load("singles-three-drums")
    quarter_s = seconds_per_quarter(pattern, TEMPO)
    trainer = _start(tmp_path, "singles-three-drums", "--port", "stage kit", "--passes", "1")
    _read_to(trainer, "Count-in")
    first_s = 3 * quarter_s
    rows = []
    for note in pattern.notes:
        number = GENERAL_MIDI.note(note.voice, "head")
        rows.append((first_s + float(note.beat) * quarter_s, (0x99, number, 90)))
    drums.play(rows)
    assert trainer.wait(20) == 0

    session = open_session(next(tmp_path.glob("*.jsonl")))
    take = judged(session)
    # JACK drops notes on a busy machine, before they reach anybody; what arrives is to be right.
    assert len(session.strikes) >= 0.8 * len(pattern.notes)
    assert take.hit_outcome.count("played") >= 0.98 * len(session.strikes)
    offsets = sorted(take.offset_s(k) for k in take.hit_target if k is not None)
    assert offsets[int(0.9 * len(offsets))] - offsets[int(0.1 * len(offsets))] < 0.020
    assert session.header.source.startswith("Stage Kit")
    assert session.summary["counts"]["played"] == take.target_outcome.count("played")


def test_it_ends_by_itself_after_the_last_pass(tmp_path: Path) -> None:
    """A given number of passes ends the session; the summary and the place are told."""
    trainer = _start(tmp_path, "singles-three-drums", "--port", "simulated", "--passes", "1")
    out, err = trainer.communicate(timeout=40)

    assert trainer.returncode == 0
    assert err == ""
    assert out.splitlines()[-1] == f"Saved: {next(tmp_path.glob('*.jsonl'))}"


@pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix systems")
def test_interrupting_twice_saves_and_tells(tmp_path: Path) -> None:
    """Ctrl-C, even twice, ends the session, saves it and shows the summary."""
    trainer = _start(tmp_path, "singles-three-drums", "--port", "simulated")
    _read_to(trainer, "Bar 1")
    trainer.send_signal(signal.SIGINT)
    trainer.send_signal(signal.SIGINT)
    out, err = trainer.communicate(timeout=20)

    assert trainer.returncode == 0
    assert "Traceback" not in err
    assert "Saved: " in out
    assert open_session(next(tmp_path.glob("*.jsonl"))).summary is not None


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--latency", "2000"], "--latency: a latency of 2000 ms is out of range"),
        (["--latency", "nan"], "--latency: a latency of nan ms is out of range"),
        (["--pad-key", "gong=restart"], '--pad-key: "gong=restart" names no pad and command'),
        (["--pad-key", "crash=fly"], '--pad-key: "crash=fly" names no pad and command'),
        (["--out", "x", "--click-channel", "17"], "click channel: 17 is out of range"),
    ],
)
def test_impossible_options_are_told_in_one_sentence(
    capsys: pytest.CaptureFixture[str], args: list[str], said: str
) -> None:
    """Bad options end with status 2 before any port is opened."""
    assert cli.run(["play", "singles-three-drums", "--port", "simulated", *args]) == 2
    told = capsys.readouterr()

    assert said in told.err
    assert told.err.count("\n") == 1


def test_a_port_that_is_not_there_lists_what_is(
    jack: dict[str, str], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A name that matches no port is told with status 2, and nothing is saved."""
    args = ["--port", "no such kit", "--plain", "--recordings", str(tmp_path)]
    assert cli.run(["play", "singles-three-drums", *args]) == 2
    told = capsys.readouterr()

    assert "no such kit" in told.err
    assert "Traceback" not in told.err
    assert not list(tmp_path.iterdir())
