"""Exported patterns as mido and pretty_midi hear them, against the times the course says."""

from __future__ import annotations

import io

import mido
import pretty_midi
import pytest

from trainer.kit.model import GENERAL_MIDI
from trainer.pattern import library
from trainer.pattern.formats.midi_write import to_midi
from trainer.practice.course import Course, Pass

NAMES = ["climb-odd-numbers", "fives-and-threes-feet", "quintuplets-travelling", "unison-groove"]


def _due(name: str) -> list[tuple[float, int]]:
    """Return when each stroke of one pass is due and on which note, by the course."""
    pattern = library.load_pattern(name)
    targets = Course(pattern, (Pass(0, pattern.tempo, 0.0),)).targets()
    due = [(t.time_s, GENERAL_MIDI.note(t.note.voice, t.note.zone) or 0) for t in targets]
    return sorted((round(time_s, 4), note) for time_s, note in due)


@pytest.mark.parametrize("name", NAMES)
def test_mido_plays_what_is_due(name: str) -> None:
    """mido plays every stroke when the course says it is due."""
    now, heard = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(to_midi(library.load_pattern(name)))):
        now += message.time
        if message.type == "note_on":
            heard.append((round(now, 4), message.note))

    assert [row[1] for row in sorted(heard)] == [row[1] for row in _due(name)]
    assert [row[0] for row in sorted(heard)] == pytest.approx(
        [row[0] for row in _due(name)], abs=1e-3
    )


@pytest.mark.parametrize("name", NAMES)
def test_pretty_midi_hears_drums_when_due(name: str) -> None:
    """pretty_midi finds the same drum strokes at the same times, all of them percussion."""
    heard = pretty_midi.PrettyMIDI(io.BytesIO(to_midi(library.load_pattern(name))))

    assert all(instrument.is_drum for instrument in heard.instruments)
    strokes = sorted((note.start, note.pitch) for one in heard.instruments for note in one.notes)
    assert [time_s for time_s, _ in strokes] == pytest.approx(
        [time_s for time_s, _ in _due(name)], abs=1e-3
    )
