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

from trainer.kit.note_map import GENERAL_MIDI
from trainer.pattern import files
from trainer.pattern.musicxml_write import to_text

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.pattern.model import Pattern

NAMES = [entry.name for entry in files.catalogue()][:40]


def _plain(pattern: Pattern) -> bool:
    return not any(note.grace for note in pattern.notes)


@pytest.mark.parametrize("name", NAMES)
def test_verovio_plays_the_pattern(name: str, tmp_path: Path) -> None:
    """Every stroke sounds at its beat on its General MIDI note, repeats played out."""
    pattern = files.load(name)
    toolkit = verovio.toolkit()
    assert toolkit.loadData(to_text(pattern))
    path = tmp_path / "heard.mid"
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
    pattern = files.load(name)
    score = music21.converter.parseData(to_text(pattern), format="musicxml").expandRepeats()
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
