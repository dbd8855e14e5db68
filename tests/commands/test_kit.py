"""`trainer kit`: the commands around a kit file, and learning over real MIDI."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from trainer.cli import run
from trainer.kit import kits
from trainer.kit.note_map import Kit, Pad

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def test_kits_are_listed_and_checked(capsys: pytest.CaptureFixture[str]) -> None:
    """The own kit is listed beside the shipped one; its page says what looks wrong."""
    kits.save(Kit(name="room", title="Room", notes={38: Pad("snare", "head")}, latency_s=0.08))

    assert run(["kit"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "room: Room",
        "general-midi: General MIDI percussion",
    ]
    assert run(["kit", "check", "room"]) == 0
    told = capsys.readouterr().out
    assert "No note stands for the kick" in told
    assert "80 ms of latency is unusual" in told


def test_latency_is_set_by_hand_and_measured_from_a_session(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By hand it is kept at once; measured it is told with its uncertainty, and kept if asked."""
    kits.save(Kit(name="room"))

    assert run(["kit", "latency", "room", "--set", "6.5"]) == 0
    assert kits.load("room").latency_s == pytest.approx(0.0065)
    assert run(["demo", "--fast", "--plain", "--passes", "1", "--recordings", str(tmp_path)]) == 0
    capsys.readouterr()
    assert run(["kit", "latency", "room", "--recordings", str(tmp_path), "--keep"]) == 0
    assert "cannot tell them apart" in capsys.readouterr().out
    assert abs(kits.load("room").latency_s) < 0.02


@pytest.mark.parametrize(
    "command",
    [
        ["kit", "check", "none"],
        ["kit", "latency", "none", "--set", "5"],
        ["kit", "learn", "../out", "--port", "x"],
    ],
)
def test_wrong_names_are_bad_input(command: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """A kit that is not there, a name that leaves the folder: one sentence, status 2."""
    assert run(command) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1


def _started(*command: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "trainer", *command],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
        env=os.environ | {"PYTHONPATH": os.getcwd()},
    )


@pytest.mark.jack
def test_pads_are_learned_over_real_midi_and_kept_when_it_is_stopped(
    sender: Callable[[str], object],
) -> None:
    """Four strokes a pad from another process; what was learned before Ctrl-C is in the file."""
    drums = sender("Odd Kit")
    trainer = _started("kit", "learn", "odd", "--port", "odd kit")
    assert trainer.stdout
    while not trainer.stdout.readline().startswith("Strike the kick"):
        assert trainer.poll() is None
    notes = [10] * 4 + [11] * 4 + [12] * 4
    drums.play([(0.2 + 0.15 * place, (0x99, note, 90)) for place, note in enumerate(notes)])
    while "cross-stick" not in trainer.stdout.readline():
        assert trainer.poll() is None
    trainer.send_signal(signal.SIGINT)

    assert trainer.wait(10) == 0
    kit = kits.load("odd")
    assert kit.pad(10) == Pad("kick", "head")
    assert kit.pad(11) == Pad("snare", "head")
    assert kit.pad(12) == Pad("snare", "rim")
    assert kits.for_port("Odd Kit:drums").name == "odd"


@pytest.mark.jack
def test_watching_tells_every_message_in_words_and_bytes(sender: Callable[[str], object]) -> None:
    """Strokes, pedal and pressure, each on a line of its own."""
    drums = sender("Odd Kit")
    trainer = _started("kit", "watch", "--port", "odd kit", "--seconds", "3")
    assert trainer.stdout
    assert trainer.stdout.readline().startswith("Listening")
    drums.play(
        [(0.2, (0x99, 38, 100)), (0.3, (0xB9, 4, 30)), (0.4, (0xA9, 49, 127)), (0.5, (0x99, 3, 9))]
    )
    told = trainer.communicate(timeout=20)[0]

    assert "99 26 64" in told
    assert "snare head (note 38), velocity 100" in told
    assert "controller 4 (hi-hat pedal) at 30" in told
    assert "choke or pressure 127 on crash edge" in told
    assert "unknown pad (note 3)" in told
