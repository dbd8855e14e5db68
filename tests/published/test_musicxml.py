"""Our MusicXML as two other readers understand it: verovio's MIDI and music21's parse.

verovio renders MIDI from the engraved score (120 ticks a quarter, General MIDI notes on channel
10); music21 gives onsets and durations. Both are compared with the pattern's own beats.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import mido
import music21
import pytest
import verovio

from trainer.kit.model import GENERAL_MIDI
from trainer.pattern import library
from trainer.pattern.formats.musicxml_write import to_musicxml
from trainer.pattern.language import notation
from trainer.pattern.model import NOTE_VALUES

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.pattern.model import Pattern

NAMES = [entry.name for entry in library.catalogue()][:40]


def _plain(pattern: Pattern) -> bool:
    return not any(note.grace for note in pattern.notes)


def _heard(pattern: Pattern, folder: Path) -> list[tuple[Fraction, int]]:
    """Return beat and MIDI note of every stroke that verovio plays."""
    toolkit = verovio.toolkit()
    assert toolkit.loadData(to_musicxml(pattern))
    path = folder / "heard.mid"
    assert toolkit.renderToMIDIFile(str(path))
    file = mido.MidiFile(str(path))
    heard = []
    for track in file.tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                assert message.channel == 9
                heard.append((Fraction(tick, file.ticks_per_beat), message.note))
    return heard


@pytest.mark.parametrize("name", NAMES)
def test_verovio_plays_the_pattern(name: str, tmp_path: Path) -> None:
    """Every stroke sounds at its beat on its General MIDI note, repeats played out."""
    pattern = library.load_pattern(name)
    heard = _heard(pattern, tmp_path)

    # Both hands on one drum are one note there, and verovio plays a grace stroke on the beat.
    written = {
        (note.beat, GENERAL_MIDI.note(note.voice, note.zone))
        for note in pattern.notes
        if not note.grace
    }
    assert len(heard) >= len(written)
    if _plain(pattern):
        near = {(round(beat * 120), note) for beat, note in heard}
        for beat, note in written:
            assert near & {(round(beat * 120) + by, note) for by in (-1, 0, 1)}, (beat, note)
        assert len(heard) == len(written)


@pytest.mark.parametrize("name", NAMES)
def test_music21_reads_the_same_onsets(name: str) -> None:
    """music21 finds the strokes at the same beats, and each bar filled exactly."""
    pattern = library.load_pattern(name)
    score = music21.converter.parseData(to_musicxml(pattern), format="musicxml").expandRepeats()
    part = score.parts[0]
    onsets = set()
    for measure in part.getElementsByClass(music21.stream.Measure):
        streams = list(measure.voices) or [measure]
        for stream in streams:
            assert stream.duration.quarterLength == measure.barDuration.quarterLength
            for event in stream.notes:
                tied = event.tie is not None and event.tie.type != "start"
                if event.duration.isGrace or tied:
                    continue
                onsets.add(Fraction(measure.offset + event.offset).limit_denominator(3360))

    assert onsets == {note.beat for note in pattern.notes if not note.grace}


RHYTHMS = [
    ("6/8", "8 8. 16 8 16 16 8"),
    ("4/4", "8 4 8 4. 8"),
    ("4/4", "8. 8. 8. 8. 4"),
    ("4/4", "16t x3 8 8t 4t 2"),
    ("6/8", "4 4 4"),
    ("7/8", "8 4 8 8. 16 8"),
    ("3/4", "4."),
]


@pytest.mark.parametrize(("meter", "rhythm"), RHYTHMS)
def test_other_readers_find_the_written_values(meter: str, rhythm: str, tmp_path: Path) -> None:
    """For music21 each stroke lasts as its value says, ties joined; verovio strikes each once."""
    hands = {"sticking": "R L", "rhythm": rhythm}
    pattern = notation.read({"meter": meter, "length": 2, "hands": hands}, "t")

    part = music21.converter.parseData(to_musicxml(pattern), format="musicxml").parts[0]
    notes = part.flatten().stripTies().notes
    lengths = [Fraction(note.duration.quarterLength).limit_denominator(3360) for note in notes]
    assert lengths == [NOTE_VALUES[note.value].length for note in pattern.notes]
    played = sorted(round(beat * 120) for beat, _ in _heard(pattern, tmp_path))
    assert played == [round(note.beat * 120) for note in pattern.notes]
