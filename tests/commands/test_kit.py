"""`trainer kit`: the commands around a kit file, and learning over real MIDI."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from threading import Thread
from typing import TYPE_CHECKING, Any

import pytest
from patience import LIMIT_S, until

from trainer.cli import run
from trainer.kit import kits
from trainer.kit.hits import PowerCurve
from trainer.kit.model import Kit, Pad

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
    reported = capsys.readouterr().out
    assert "No note for the kick" in reported
    assert "80 ms of latency is a lot" in reported


def test_latency_is_set_by_hand_and_measured_from_a_session(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By hand it is kept at once; measured it comes with its uncertainty, and kept if asked."""
    kits.save(Kit(name="room"))

    assert run(["kit", "latency", "room", "--set", "6.5"]) == 0
    assert kits.load("room").latency_s == pytest.approx(0.0065)
    assert run(["demo", "--fast", "--plain", "--passes", "1", "--recordings", str(tmp_path)]) == 0
    capsys.readouterr()
    played_on(tmp_path, "room")
    assert run(["kit", "latency", "room", "--recordings", str(tmp_path), "--keep"]) == 0
    assert "cannot separate" in capsys.readouterr().out
    assert abs(kits.load("room").latency_s) < 0.02


def played_on(folder: Path, kit: str) -> Path:
    """Say in the only session of a folder that it was played on a kit; return its file."""
    (path,) = folder.glob("*.jsonl")
    path.write_text(path.read_text().replace('"name":"general-midi"', f'"name":"{kit}"', 1))
    return path


def test_latency_is_never_kept_from_another_kits_session(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The newest session of the kit counts, not the newest of all; another's only tells."""
    kits.save(Kit(name="room", latency_s=0.004))
    folder = ["--recordings", str(tmp_path)]
    assert run(["demo", "--fast", "--plain", "--passes", "1", *folder]) == 0
    assert run(["kit", "latency", "room", "--keep", *folder]) == 2
    assert 'no session was played on the kit "room"' in capsys.readouterr().err
    own = played_on(tmp_path, "room")
    assert run(["demo", "--fast", "--plain", "--passes", "1", *folder]) == 0
    (other,) = set(tmp_path.glob("*.jsonl")) - {own}
    capsys.readouterr()

    assert run(["kit", "latency", "room", *folder]) == 0
    assert own.name in capsys.readouterr().out
    named = ["kit", "latency", "room", "--session", str(other)]
    assert run(named) == 0
    assert run([*named, "--keep"]) == 2
    assert 'it was played on the kit "general-midi"' in capsys.readouterr().err
    assert kits.load("room").latency_s == 0.004


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


class _Talk:
    """A running `trainer kit` command: its lines as they come, asked for until they are there."""

    def __init__(self, *command: str) -> None:
        self.lines: list[str] = []
        self._process = subprocess.Popen(
            [sys.executable, "-m", "trainer", *command],
            stdout=subprocess.PIPE,
            stdin=subprocess.DEVNULL,
            text=True,
            env=os.environ | {"PYTHONPATH": os.getcwd()},
        )
        Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self._process.stdout
        self.lines.extend(iter(self._process.stdout.readline, ""))

    def until(self, words: str, again: Callable[[], object] = lambda: None) -> None:
        """Do something again and again until a line holds the words: JACK may drop notes."""

        def next_try() -> None:
            again()
            time.sleep(0.25)

        try:
            until(
                lambda: any(words in line for line in list(self.lines)),
                lambda: f"a line with {words!r} in {self.lines}",
                next_try,
            )
        except AssertionError:
            self._process.kill()
            raise

    def stop(self) -> int:
        """Press Ctrl-C and return the exit status."""
        self._process.send_signal(signal.SIGINT)
        return self._process.wait(LIMIT_S)

    def end(self) -> int:
        """Wait for the command's own end."""
        return self._process.wait(LIMIT_S)


@pytest.mark.jack
def test_pads_are_learned_over_real_midi_and_kept_when_it_is_stopped(
    sender: Callable[[str], Any],
) -> None:
    """Four strokes a pad from another process; what was learned before Ctrl-C is in the file."""
    drums = sender("Odd Kit")
    talk = _Talk("kit", "learn", "odd", "--port", "odd kit")
    talk.until("Strike the kick")
    for note, learned in ((10, "kick: note 10"), (11, "snare: note 11"), (12, "rim: note 12")):
        talk.until(learned, lambda note=note: drums.play([(0.0, (0x99, note, 90))]))

    assert talk.stop() == 0
    kit = kits.load("odd")
    assert kit.pad(10) == Pad("kick", "head")
    assert kit.pad(11) == Pad("snare", "head")
    assert kit.pad(12) == Pad("snare", "rim")
    assert kits.kit_for_port("Odd Kit:drums").name == "odd"


@pytest.mark.jack
def test_watching_shows_every_message_in_words_and_bytes(sender: Callable[[str], Any]) -> None:
    """Strokes, pedal and pressure, each on a line of its own."""
    drums = sender("Odd Kit")
    talk = _Talk("kit", "watch", "--port", "odd kit")
    talk.until("Listening")
    for message, words in (
        ((0x99, 38, 100), "99 26 64  snare head (note 38), velocity 100"),
        ((0xB9, 4, 30), "controller 4 (hi-hat pedal) at 30"),
        ((0xA9, 49, 127), "choke or pressure 127 on crash edge"),
        ((0x99, 3, 9), "unknown pad (note 3)"),
    ):
        talk.until(words, lambda message=message: drums.play([(0.0, message)]))

    assert talk.stop() == 0


@pytest.mark.jack
def test_controllers_are_learned_over_real_midi(sender: Callable[[str], Any]) -> None:
    """Pedal and choke from another process; what the kit does not send is left out."""
    kits.save(Kit(name="odd", ports=("Odd Kit",)))
    drums = sender("Odd Kit")
    talk = _Talk("kit", "controllers", "odd", "--port", "odd kit")
    talk.until("Press the hi-hat pedal")
    swing = [(0.02 * place, (0xB9, 4, value)) for place, value in enumerate((0, 60, 127))]
    talk.until("controller 4", lambda: drums.play([*swing, (0.07, (0x99, 44, 90))]))
    hat = [(0.0, (0xB9, 4, 127)), (0.02, (0x99, 42, 90)), (0.1, (0xB9, 4, 0))]
    talk.until("Strike the hi-hat four times")
    talk.until("One note for both", lambda: drums.play([*hat, (0.12, (0x99, 42, 90))]))
    talk.until("Strike each cymbal")
    talk.until("choke of crash", lambda: drums.play([(0.0, (0xA9, 49, 127))]))

    assert talk.end() == 0
    kit = kits.load("odd")
    assert kit.controllers.pedal is not None
    assert (kit.controllers.pedal.controller, kit.controllers.pedal.closed) == (4, 127)
    assert kit.controllers.pedal.zones
    assert kit.controllers.chokes == (49,)
    assert kit.controllers.places == {}


@pytest.mark.jack
def test_a_survey_keeps_its_minute_when_nothing_follows(sender: Callable[[str], Any]) -> None:
    """Doubles and crosstalk were measured; no soft strokes come: the rules are in the file."""
    kits.save(Kit(name="odd", ports=("Odd Kit",), power={Pad("kick", "head"): PowerCurve(1, 2, 3)}))
    drums = sender("Odd Kit")
    talk = _Talk("kit", "survey", "odd", "--port", "odd kit", "--seconds", "6")
    talk.until("play single strokes")
    strokes = [(0.3 * place, (0x99, 38, 100)) for place in range(14)]
    doubles = [(time_s + 0.009, (0x99, 38, 40)) for time_s, _ in strokes]
    drums.play(sorted(strokes + doubles))
    talk.until("No soft strokes came")

    assert talk.end() == 0
    kit = kits.load("odd")
    assert kit.surveyed
    assert "snare" in kit.rules.doubles
    assert kit.power == {Pad("kick", "head"): PowerCurve(1, 2, 3)}
