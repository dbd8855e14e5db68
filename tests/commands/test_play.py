"""`trainer play`: a pattern practised on a kit, in real time."""

from __future__ import annotations

import json
import os
import signal
import statistics
import subprocess
import sys
import time
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pytest
from patience import LIMIT_S, until

from trainer import cli
from trainer.archive.session_file import open_session
from trainer.archive.summary import judge_session
from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.library import load_pattern
from trainer.practice.course import Pass, pass_targets

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def _start(folder: Path, *args: str) -> subprocess.Popen[str]:
    """Start `trainer play` with plain lines, saving into a folder."""
    command = [sys.executable, "-m", "trainer", "play", *args, "--plain"]
    return subprocess.Popen(
        [*command, "--recordings", str(folder)],
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


def _lines(folder: Path) -> list[Any]:
    """Return what the session's file holds so far, after its header."""
    found = [path.read_text().splitlines() for path in folder.glob("*.jsonl")]
    return [json.loads(line) for line in found[0][1:]] if found else []


def _wait_for(folder: Path, kind: str) -> dict[str, Any]:
    """Return the first line of a kind, as soon as it is in the session's file."""

    def first() -> dict[str, Any] | None:
        named = [one for one in _lines(folder) if isinstance(one, dict)]
        return next((one for one in named if one["kind"] == kind), None)

    found = until(first, f"a line of kind {kind!r} in the session's file")
    assert found
    return found


@pytest.mark.jack
def test_strokes_of_another_process_are_judged(
    sender: Callable[[str], Any], tmp_path: Path
) -> None:
    """Strokes over real MIDI land on the targets they were sent for, stamped when they were sent.

    Strokes in the count-in, each on a pad of its own, tell how the session's clock lies to that of
    the sender.
    """
    drums = sender("Stage Kit")
    pattern = load_pattern("paradiddle-travelling")
    tempo = ("--tempo", "60", "--passes", "2")
    trainer = _start(tmp_path, pattern.name, "--port", "stage kit", *tempo)
    _read_to(trainer, "Count-in")
    probes_s = drums.play([(k * 0.1, (0x99, k, 90)) for k in range(8)])
    heard_s, probe, _ = _wait_for(tmp_path, "idle")["strike"]
    zero_s = probes_s[probe] - heard_s
    start_s = _wait_for(tmp_path, "pass")["start_s"]
    targets = pass_targets(pattern, Pass(1, 60.0, start_s + float(pattern.length)), 0)
    notes = [GENERAL_MIDI.note(target.note.voice, "head") for target in targets]
    wanted_s = [zero_s + target.time_s for target in targets]
    due_s = [at - time.perf_counter() for at in wanted_s]
    sent_s = drums.play([(at, (0x99, note, 90)) for at, note in zip(due_s, notes, strict=True)])
    assert trainer.wait(LIMIT_S) == 0

    session = open_session(next(tmp_path.glob("*.jsonl")))
    take = judge_session(session)
    # JACK drops notes on a busy machine, before they reach anybody; what arrives is to be right.
    assert len(session.strikes) >= 0.8 * len(targets)
    assert set(take.hit_outcome) == {"played"}
    first = len(take.targets) - len(targets)
    played = [k - first for k in take.hit_target if k is not None]
    late_s = [hit.time_s + zero_s - sent_s[k] for hit, k in zip(take.hits, played, strict=True)]
    # On the whole as far off as the sender itself, but for a small part of the gap to the next.
    sender_late_s = statistics.median(at - due for at, due in zip(sent_s, wanted_s, strict=True))
    gap_s = min(later.time_s - one.time_s for one, later in pairwise(targets))
    assert abs(statistics.median(late_s)) < gap_s / 25 + sender_late_s
    assert session.header.source.startswith("Stage Kit")
    assert session.summary["counts"]["played"] == len(session.strikes)


def test_it_ends_by_itself_after_the_last_pass(tmp_path: Path) -> None:
    """A given number of passes ends the session; the summary and the place are reported."""
    trainer = _start(
        tmp_path,
        "paradiddle-travelling",
        "--port",
        "simulated",
        *("--passes", "1", "--tempo", "240"),
    )
    out, err = trainer.communicate(timeout=LIMIT_S)

    assert trainer.returncode == 0
    assert err == ""
    assert out.splitlines()[-1] == f"Saved: {next(tmp_path.glob('*.jsonl'))}"


@pytest.mark.skipif(sys.platform == "win32", reason="signals of Unix systems")
def test_interrupting_twice_saves_and_shows(tmp_path: Path) -> None:
    """Ctrl-C, even twice, ends the session, saves it and shows the summary."""
    trainer = _start(tmp_path, "paradiddle-travelling", "--port", "simulated", "--tempo", "240")
    _read_to(trainer, "Bar 1")
    trainer.send_signal(signal.SIGINT)
    trainer.send_signal(signal.SIGINT)
    out, err = trainer.communicate(timeout=LIMIT_S)

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
def test_impossible_options_are_reported_in_one_sentence(
    capsys: pytest.CaptureFixture[str], args: list[str], said: str
) -> None:
    """Bad options end with status 2 before any port is opened."""
    assert cli.run(["play", "fives-and-threes", "--port", "simulated", *args]) == 2
    reported = capsys.readouterr()

    assert said in reported.err
    assert reported.err.count("\n") == 1


def test_a_port_that_is_not_there_lists_what_is(
    jack: dict[str, str], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A name that matches no port is reported with status 2, and nothing is saved."""
    args = ["--port", "no such kit", "--plain", "--recordings", str(tmp_path)]
    assert cli.run(["play", "fives-and-threes", *args]) == 2
    reported = capsys.readouterr()

    assert "no such kit" in reported.err
    assert "Traceback" not in reported.err
    assert not list(tmp_path.iterdir())


def test_simulated_time_comes_to_an_end_by_itself(tmp_path: Path) -> None:
    """Without a number of passes a session in simulated time is a few passes long."""
    from trainer.cli import run

    command = ["play", "single-stroke-four", "--port", "simulated", "--fast"]
    assert run([*command, "--recordings", str(tmp_path)]) == 0
    assert len(open_session(next(tmp_path.glob("*.jsonl"))).passes) == 4
