"""The default kit against the General MIDI level 1 percussion map in two reference libraries.

Sources: pretty_midi 0.2.11 (47 names, notes 35 to 81) and music21 10.5 (`PercussionMapper`,
which knows 35 of the 47: no ride, splash, china, clap and a few others, and none below 35).
Both were run.
Their spellings differ, so names are compared by the words below, in any case.
"""

import pretty_midi
import pytest
from music21 import midi

from trainer.kit.model import GENERAL_MIDI

WORDS = {
    "kick": "bass drum",
    "kick2": "bass drum",
    "hihat": "hi hat",
    "pedal": "pedal hi hat",
    "crash": "crash cymbal",
    "crash2": "crash cymbal",
    "ride": "ride",
    "ride2": "ride",
    "china": "chinese cymbal",
    "splash": "splash cymbal",
    "cowbell": "cowbell",
    "tambourine": "tambourine",
    "tom0": "tom",
    "tom1": "tom",
    "tom2": "tom",
    "tom3": "tom",
    "floor": "floor tom",
    "floor2": "floor tom",
}
SNARE = {37: "side stick", 38: "acoustic snare", 40: "electric snare"}
CLASSES = {
    "kick": "BassDrum",
    "kick2": "BassDrum",
    "snare": "SnareDrum",
    "hihat": "HiHatCymbal",
    "pedal": "HiHatCymbal",
    "crash": "CrashCymbals",
    "crash2": "CrashCymbals",
    "cowbell": "Cowbell",
    "tambourine": "Tambourine",
    "tom0": "TomTom",
    "tom1": "TomTom",
    "tom2": "TomTom",
    "tom3": "TomTom",
    "floor": "TomTom",
    "floor2": "TomTom",
}
"""The instrument music21 gives a voice's notes; voices it has no instrument for are left out."""

PADS = sorted(GENERAL_MIDI.notes.items())


@pytest.mark.parametrize(("note", "pad"), PADS)
def test_note_has_the_name_of_pretty_midi(note, pad):
    """Each note of the default kit is the drum that pretty_midi's table names."""
    name = pretty_midi.note_number_to_drum_name(note).lower().replace("-", " ")
    assert (SNARE[note] if pad.voice == "snare" else WORDS[pad.voice]) in name


@pytest.mark.parametrize(("note", "pad"), PADS)
def test_note_has_the_instrument_of_music21(note, pad):
    """Each note is the instrument of music21 where it has one; its gaps are the cymbals."""
    mapper = midi.percussion.PercussionMapper()
    if pad.voice not in CLASSES:
        with pytest.raises(midi.percussion.MIDIPercussionException):
            mapper.midiPitchToInstrument(note)
        assert note in (51, 52, 53, 55, 59)
    else:
        assert type(mapper.midiPitchToInstrument(note)).__name__ == CLASSES[pad.voice]


def test_zones_follow_the_published_names():
    """Bell, open, pedal and side stick are the notes the map names so."""
    zones = {(pad.voice, pad.zone): note for note, pad in PADS}
    named = pretty_midi.drum_name_to_note_number
    assert zones["ride", "bell"] == named("Ride Bell")
    assert zones["hihat", "open"] == named("Open Hi Hat")
    assert zones["hihat", "closed"] == named("Closed Hi Hat")
    assert zones["pedal", "closed"] == named("Pedal Hi Hat")
    assert zones["snare", "cross-stick"] == named("Side Stick")


def test_notes_outside_the_map_have_no_name_and_no_pad():
    """pretty_midi names nothing outside 35 to 81, and the default kit knows no pad there."""
    for note in (*range(35), *range(82, 128)):
        assert pretty_midi.note_number_to_drum_name(note) == ""
        assert GENERAL_MIDI.pad(note) is None
