"""What the click plays and how strokes sound, as another program hears it from the real command."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
import rtmidi
from conftest import midi_api
from patience import until
from terminals import finished

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.jack

TEMPO = 150
BEAT_S = 60 / TEMPO
KINDS = {(75, 120): "A", (37, 90): "b", (37, 50): "s"}
"""An accent, a beat, a click between beats, as they are sent."""

FIGURES = {
    "plain": ((), "Abbb", "Abbb", [0, 1, 2, 3]),
    "two and four": (("--click-on", "2,4"), "Abbb", "bb", [1, 3]),
    "groups": (("--click-accents", "3+1"), "AbbA", "AbbA", [0, 1, 2, 3]),
    "offbeats": (("--click-late", "1/8"), "Abbb", "Abbb", [0.5, 1.5, 2.5, 3.5]),
    "swing": (
        ("--click-parts", "2", "--click-swing", "67"),
        *("Asbsbsbs", "Asbsbsbs"),
        [0, 0.67, 1, 1.67, 2, 2.67, 3, 3.67],
    ),
    "silent": (("--silent-bars", "1/2"), "Abbb", "Abbb", [0, 1, 2, 3]),
}
"""Options, the clicks of the count-in and of the first bar, and the beats these are at."""


@pytest.fixture
def ear(jack: dict[str, str]) -> Iterator[rtmidi.MidiIn]:
    """Something to click at."""
    client = rtmidi.MidiIn(midi_api(), name="Ear", queue_size_limit=4096)
    client.open_virtual_port("in")
    yield client
    client.close_port()
    client.delete()


@pytest.mark.parametrize("figure", FIGURES)
def test_a_figure_is_heard(ear: rtmidi.MidiIn, tmp_path: Path, figure: str) -> None:
    """After the count-in come the clicks of the figure, each of its kind and due at its beat."""
    options, counted, kinds, beats = FIGURES[figure]
    words = ("play", "single-paradiddle", "--port", "simulated", "--plain", "--passes", "2")
    command = [sys.executable, "-m", "trainer", *words, "--tempo", str(TEMPO), "--out", "Ear"]
    subprocess.run(
        [*command, *options, "--recordings", tmp_path], stdin=subprocess.DEVNULL, check=True
    )
    session = finished(tmp_path)
    due = [(one.time_s - session.passes[0].start_s) / BEAT_S for one in session.clicks]
    heard: list[str] = []

    def listen() -> bool:
        notes = [tuple(got[0][1:]) for got in iter(ear.get_message, None) if got[0][0] == 0x99]
        heard.extend(KINDS[note] for note in notes)
        return len(heard) >= len(due)

    until(listen, lambda: f"{len(due)} clicks after {heard}")
    assert "".join(heard).startswith(counted + kinds)
    assert len(heard) == len(due)
    assert [beat for beat in due if -0.001 < beat < 3.999] == pytest.approx(beats)
    bars_heard = {int((beat + 0.001) // 4) for beat in due if beat > -0.001}
    assert (1 in bars_heard) is (figure != "silent")


def test_strokes_are_heard(ear: rtmidi.MidiIn, tmp_path: Path) -> None:
    """Every stroke is a note of General MIDI as hard as it was played, and the delay is said."""
    kit = tmp_path / "rubber.toml"
    kit.write_text('[notes]\n9 = "snare"\n')
    words = ("play", "single-paradiddle", "--port", "simulated", "--plain", "--passes", "2")
    options = ("--tempo", "200", "--kit", kit, "--thru", "Ear")
    command = [sys.executable, "-m", "trainer", *words, *options]
    said = subprocess.run(
        [*command, "--recordings", tmp_path / "kept"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    session = finished(tmp_path / "kept")
    strikes = [*session.strikes, *session.idle]
    wanted = sorted((38 if one.note == 9 else one.note, one.velocity) for one in strikes)
    heard: list[tuple[int, ...]] = []

    def listen() -> bool:
        heard.extend(tuple(got[0][1:]) for got in iter(ear.get_message, None))
        return len(heard) >= len(wanted)

    until(listen, lambda: f"{wanted} after {heard}")
    assert sorted(heard) == wanted
    assert {one.note for one in strikes} & {9}
    assert "Sounds left" in said
    assert session.header.timing["sounds"]["sent_late"]["count"] == len(strikes)
