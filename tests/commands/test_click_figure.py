"""What the click plays and how strokes sound, as another program hears it from the real command."""

from __future__ import annotations

import statistics
import subprocess
import sys
from collections import Counter
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
import rtmidi
from conftest import midi_api
from patience import until
from terminals import finished

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from trainer.archive.session import Session

pytestmark = pytest.mark.jack

TEMPO = 200
BEAT_S = 60 / TEMPO
KINDS = {(75, 120): "A", (37, 90): "b", (37, 50): "s"}
"""An accent, a beat, a click between beats, as they are sent."""

PLAIN = "A0 b1 b2 b3"
GROUPED = "A0 b1 b2 A3"
CLAVE = "A0 s.5 b1 A1.5 b2 s2.5 A3 s3.5"
EIGHTHS = "A0 s.5 b1 s1.5 b2 s2.5 b3 s3.5"
TRIPLETS = "A0 s.333 s.667 b1 s1.333 s1.667 b2 s2.333 s2.667 b3 s3.333 s3.667"
SWUNG = "A0 s.67 b1 s1.67 b2 s2.67 b3 s3.67"
LATE = "b1.25 s1.75 b3.25 s3.75"

FIGURES = {
    "plain": ("", [PLAIN, PLAIN]),
    "two and four": ("--click-on 2,4", [PLAIN, "b1 b3", "b1 b3"]),
    "accents": ("--click-accents 2,4", ["b0 A1 b2 A3", "b0 A1 b2 A3"]),
    "no accents": ("--click-accents none", ["b0 b1 b2 b3", "b0 b1 b2 b3"]),
    "groups": ("--click-accents 3+1", [GROUPED, GROUPED]),
    "groups of eighths": ("--click-accents 3+3+2 --click-parts 2", [CLAVE, CLAVE]),
    "offbeats": ("--click-late 1/8", [PLAIN, "A.5 b1.5 b2.5 b3.5", "A.5 b1.5 b2.5 b3.5"]),
    "swing": ("--click-parts 2 --click-swing 67", [SWUNG, SWUNG]),
    "come and go": ("--click-parts 1x1,3x1,2x1", [PLAIN, PLAIN, TRIPLETS, EIGHTHS, PLAIN]),
    "all at once": (
        "--click-on 2,4 --click-parts 2x1,1x1 --click-late 1/16",
        [EIGHTHS, LATE, "b1.25 b3.25", LATE],
    ),
    "silent": ("--silent-bars 1/2", [PLAIN, PLAIN, "", PLAIN, ""]),
    "growing": (
        "--silent-bars 1-2/3",
        [PLAIN, *(PLAIN, PLAIN, ""), *(PLAIN, "", ""), *(PLAIN, "", "")],
    ),
}
"""Options; then the count-in and bar by bar the clicks: their kinds, and the beats they are at."""


@pytest.fixture
def ear(jack: dict[str, str]) -> Iterator[rtmidi.MidiIn]:
    """Something to click at."""
    client = rtmidi.MidiIn(midi_api(), name="Ear", queue_size_limit=4096)
    client.open_virtual_port("in")
    yield client
    client.close_port()
    client.delete()


def clicks_heard(
    ear: rtmidi.MidiIn, folder: Path, options: str, bars: int
) -> tuple[list[tuple[str, float]], Session]:
    """Play so many bars; return the kind and beat of every click another program got."""
    words = f"play single-paradiddle --port simulated --plain --passes {bars} --tempo {TEMPO}"
    command = [sys.executable, "-m", "trainer", *words.split(), "--out", "Ear", *options.split()]
    subprocess.run([*command, "--recordings", folder], stdin=subprocess.DEVNULL, check=True)
    session = finished(folder)
    heard: list[tuple[str, float]] = []
    at_s = 0.0

    def listen() -> bool:
        nonlocal at_s
        for (status, *note), since_s in iter(ear.get_message, None):
            at_s += since_s
            if status == 0x99:
                heard.append((KINDS[tuple(note)], at_s / BEAT_S))
        return len(heard) >= len(session.clicks)

    until(listen, lambda: f"{len(session.clicks)} clicks after {heard}")
    return heard, session


def written(text: str, bar: int) -> list[tuple[str, float]]:
    """Read the clicks of a bar: kind and beat."""
    return [(one[0], 4 * bar + float(one[1:])) for one in text.split()]


@pytest.mark.parametrize("figure", FIGURES)
def test_a_figure_is_heard(ear: rtmidi.MidiIn, tmp_path: Path, figure: str) -> None:
    """Another program gets the clicks of the table: their kinds in order, each at its beat."""
    options, texts = FIGURES[figure]
    wanted = [one for bar, text in enumerate(texts) for one in written(text, bar)]
    heard, _ = clicks_heard(ear, tmp_path, options, len(texts) - 1)
    assert [kind for kind, _ in heard] == [kind for kind, _ in wanted]
    beats = [beat for _, beat in wanted]
    off = [at - beat for (_, at), beat in zip(heard, beats, strict=True)]
    # A busy machine may hold up any one of them, also the first, which ties both clocks.
    usual = statistics.median(off)
    apart = min(later - one for one, later in pairwise(beats))
    assert statistics.median(abs(one - usual) for one in off) < apart / 8


def test_bars_that_are_silent_by_chance_are_silent_as_a_whole(
    ear: rtmidi.MidiIn, tmp_path: Path
) -> None:
    """Each bar clicks on all of its beats or on none; the session says which were silent."""
    heard, session = clicks_heard(ear, tmp_path, "--silent-bars 50%", 12)
    marks = [mark.time_s for mark in session.marks if mark.kind == "silent"]
    silent = Counter(round((time_s - session.passes[0].start_s) / BEAT_S) // 4 for time_s in marks)
    assert set(silent.values()) == {4}
    texts = [PLAIN, *("" if bar in silent else PLAIN for bar in range(12))]
    assert [kind for kind, _ in heard] == [one[0] for one in " ".join(texts).split()]
    assert 0 < len(silent) < 12


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
