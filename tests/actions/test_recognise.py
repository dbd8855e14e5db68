"""Which pattern a recorded take is, among all that ship: uneven players who miss strokes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import mido
import numpy as np
import pytest

from trainer import cli
from trainer.actions.recognise import RecogniseRequest, recognise
from trainer.errors import BadInput
from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.as_played import played_places
from trainer.pattern.library import load_pattern

if TYPE_CHECKING:
    from pathlib import Path


def take(path: Path, name: str, faster: float, seed: int = 1) -> Path:
    """Write some 20 seconds of a pattern: strokes 8 ms off, one in fifty missed, at any tempo."""
    rng, pattern = np.random.default_rng(seed), load_pattern(name)
    places = played_places(pattern)
    quarter_s = 60 / (pattern.tempo * float(pattern.tempo_unit) * faster)
    turns = max(2, round(20 / (places.length * quarter_s)))
    strokes = sorted(
        (
            (beat + turn * places.length) * quarter_s + rng.normal(0, 0.008) - 0.03 * note.grace,
            note.voice,
        )
        for turn in range(turns)
        for beat, note in zip(places.notes, pattern.notes, strict=True)
        if rng.random() > 0.02
    )
    file, track, before = mido.MidiFile(ticks_per_beat=960), mido.MidiTrack(), 0
    file.tracks.append(track)
    for at_s, voice in strokes:
        tick = max(before, round((at_s + 1) * 1920))
        note = GENERAL_MIDI.note(voice, "")
        track.append(mido.Message("note_on", note=note, velocity=80, time=tick - before))
        before = tick
    file.save(path)
    return path


@pytest.mark.parametrize(
    ("name", "faster"),
    [
        ("doubles-two-to-six", 1.2),
        ("climb-samba", 0.9),
        ("feet-half-time", 1.1),
        ("sextuplets-round-trip", 0.8),
        ("ghosts-between-backbeats", 1.0),
        ("flam-tap", 1.1),
        ("triple-ratamacue", 0.9),
    ],
)
def test_a_take_is_recognised_at_another_tempo(tmp_path: Path, name: str, faster: float) -> None:
    """The first guess is the pattern or one that no ear could tell from it."""
    found = recognise(RecogniseRequest(take(tmp_path / "take.mid", name, faster)))
    assert name in found.guesses[0].names
    assert found.guesses[0].tempo == pytest.approx(load_pattern(name).tempo * faster, rel=0.02)
    assert found.sure


def test_a_light_swing_is_named_first_and_said_to_be_unsure(tmp_path: Path) -> None:
    """Straight sixteenths on the same drums fit nearly as well: both are offered."""
    path = take(tmp_path / "take.mid", "swing-sixteenths-light", 1.0)
    found = recognise(RecogniseRequest(path))
    assert "swing-sixteenths-light" in found.guesses[0].names
    assert not found.sure


def test_patterns_that_differ_by_sticking_are_one_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is said that hands cannot be heard, and how to check the take."""
    take(tmp_path / "my take.mid", "fives-and-threes", 1.0)
    monkeypatch.chdir(tmp_path)
    assert cli.run(["assess", "my take.mid"]) == 0
    said = capsys.readouterr().out
    assert "most like fives-and-threes" in said
    assert "fives-and-threes-left" in said
    assert "Hands cannot be heard" in said
    assert "trainer assess 'my take.mid' --pattern" in said, "the command is to be typed as shown"
    assert all(len(line) <= 79 for line in said.splitlines())


def test_a_take_of_four_strokes_is_no_pattern(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Four even strokes would fit a slow climb as well as anything."""
    file, track = mido.MidiFile(), mido.MidiTrack()
    file.tracks.append(track)
    for _ in range(4):
        track.append(mido.Message("note_on", note=38, velocity=80, time=480))
    file.save(tmp_path / "four.mid")
    assert cli.run(["assess", str(tmp_path / "four.mid")]) == 1
    assert "too few strokes" in capsys.readouterr().out


def test_only_the_patterns_named_are_tried(tmp_path: Path) -> None:
    """An assignment narrows the choice; a faulty name in it is passed over."""
    path = take(tmp_path / "take.mid", "climb-samba", 1.0)
    found = recognise(RecogniseRequest(path, ("flam", "climb-samba", "nowhere")))
    assert [one.names[0] for one in found.guesses] == ["climb-samba"]
    assert not recognise(RecogniseRequest(path, ("flam",))).guesses
    assert not recognise(RecogniseRequest(path, ())).guesses


def test_noise_is_no_pattern(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Strokes at random on random drums: nothing is named, and that is said with status 1."""
    rng = np.random.default_rng(3)
    file, track = mido.MidiFile(), mido.MidiTrack()
    file.tracks.append(track)
    for wait in rng.exponential(200, 120):
        note = int(rng.choice([36, 38, 43, 45, 48, 49, 51]))
        track.append(mido.Message("note_on", note=note, velocity=80, time=round(wait)))
    file.save(tmp_path / "noise.mid")
    assert cli.run(["assess", str(tmp_path / "noise.mid")]) == 1
    assert "Name one with --pattern" in capsys.readouterr().out


def test_one_stroke_and_none(tmp_path: Path) -> None:
    """Too little to say anything is no crash."""
    for strokes in (0, 1, 2):
        file, track = mido.MidiFile(), mido.MidiTrack()
        file.tracks.append(track)
        for _ in range(strokes):
            track.append(mido.Message("note_on", note=38, velocity=80, time=480))
        file.save(tmp_path / f"{strokes}.mid")
        request = RecogniseRequest(tmp_path / f"{strokes}.mid")
        if strokes:
            assert not recognise(request).guesses
        else:
            with pytest.raises(BadInput, match="note"):
                recognise(request)
