"""MIDI files as patterns: what comes out of ours goes back in, and what others write is read."""

from __future__ import annotations

import io
import random
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

import mido
import pytest
from hypothesis import given, settings

from trainer.errors import BadInput
from trainer.pattern import library
from trainer.pattern.as_played import PlayedPlaces
from trainer.pattern.formats import midi_read
from trainer.pattern.formats.midi_write import to_midi
from trainer.pattern.language import notation
from trainer.pattern.language.rows import HANDS_ASSUMED
from trainer.pattern.model import Dynamic, Level, Limb, Meter, Swing, TempoChange

from .made import patterns

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.pattern.model import Pattern


@given(patterns())
@settings(max_examples=150, deadline=None)
def test_out_and_back_in_is_the_same_pattern(pattern: Pattern) -> None:
    """Title, tempo, bars, notes with limb, level, zone, value and grace, and sections return."""
    back = midi_read.read(to_midi(pattern), name=pattern.name)

    assert back == pattern


def test_an_empty_bar_after_elevenths_and_triplets_returns() -> None:
    """Its end is at half a quarter: 495 ticks would be enough for the strokes, not for that."""
    made = notation.read({"hands": "R L", "meter": ["4/4", "5/8"], "length": 2}, "made")
    first = replace(made.notes[0], value="32(11/8)")
    few = replace(made, notes=(first, replace(first, beat=Fraction(1, 3), value="8t")))

    assert midi_read.read(to_midi(few), name="made").bars == made.bars


Row = tuple[float, int, int]


def _foreign(
    rows: list[Row], ticks: int = 480, channel: int = 9, *metas: mido.MetaMessage, bpm: float = 120
) -> bytes:
    """Return a file as another program writes it: (quarter, note, velocity), short notes."""
    file = mido.MidiFile(type=0, ticks_per_beat=ticks)
    events = [(0, -1, mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm)))]
    events += [(0, 0, meta) for meta in metas]
    for beat, note, velocity in rows:
        at = int(beat * ticks)
        on = mido.Message("note_on", channel=channel, note=note, velocity=velocity)
        events += [(at, 2, on), (at + 10, 1, on.copy(velocity=0))]
    track, now = mido.MidiTrack(), 0
    for at, _, message in sorted(events, key=lambda event: event[:2]):
        track.append(message.copy(time=at - now))
        now = at
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


@pytest.mark.parametrize("ticks", [96, 120, 192, 384, 480, 960, 1920])
@pytest.mark.parametrize(
    ("value", "parts"),
    [("4", 1), ("8", 2), ("8t", 3), ("16", 4), ("16q", 5), ("16t", 6), ("16s", 7), ("32", 8)],
)
def test_each_value_is_found_at_every_resolution(ticks: int, value: str, parts: int) -> None:
    """A bar of one value, rounded down to ticks, comes back as that value, at exact places."""
    rows = [(step / parts, 38, 80) for step in range(4 * parts)]

    pattern = midi_read.read(_foreign(rows, ticks))

    assert {note.value for note in pattern.notes} == {value}
    assert [note.beat for note in pattern.notes] == [
        Fraction(step, parts) for step in range(4 * parts)
    ]


def test_a_quarter_triplet_is_three_over_two_beats() -> None:
    """Three strokes in two quarters are quarter triplets, not every second eighth triplet."""
    pattern = midi_read.read(_foreign([(2 * step / 3, 38, 80) for step in range(6)]))

    assert {note.value for note in pattern.notes} == {"4t"}


def test_swung_eighths_stay_eighth_triplets() -> None:
    """The first and last of each triplet is no quarter triplet."""
    rows = [(beat + part, 51, 80) for beat in range(4) for part in (0, 2 / 3)]

    assert {note.value for note in midi_read.read(_foreign(rows)).notes} == {"8t"}


def test_two_values_in_one_beat() -> None:
    """Two sixteenths and a sixteenth triplet in one beat keep their own values."""
    rows = [(place, 38, 80) for place in (0, 1 / 4, 1 / 2, 1 / 2 + 1 / 6, 1 / 2 + 1 / 3)]

    assert [note.value for note in midi_read.read(_foreign(rows)).notes] == ["16"] * 2 + ["16t"] * 3


def test_feet_have_a_grid_of_their_own() -> None:
    """Eighths of the feet under triplets of the hands stay eighths."""
    rows = [(step / 3, 38, 80) for step in range(12)] + [(step / 2, 36, 80) for step in range(8)]

    pattern = midi_read.read(_foreign(rows))

    assert {(note.voice, note.value) for note in pattern.notes} == {("snare", "8t"), ("kick", "8")}


def test_meters_and_their_changes() -> None:
    """Bars follow the time signatures: one bar of 7/8, then 3/4."""
    metas = [mido.MetaMessage("time_signature", numerator=7, denominator=8)]
    data = _foreign([(step / 2, 38, 80) for step in range(13)], 480, 9, *metas)
    file = mido.MidiFile(file=io.BytesIO(data))
    late = mido.MetaMessage("time_signature", numerator=3, denominator=4, time=1680)
    file.tracks.append(mido.MidiTrack([late]))
    file.type = 1
    out = io.BytesIO()
    file.save(file=out)

    pattern = midi_read.read(out.getvalue())

    assert [bar.meter for bar in pattern.bars] == [Meter(7, 8), Meter(3, 4)]
    assert pattern.bars[1].start == Fraction(7, 2)


def test_compound_meter_counts_plain_eighths() -> None:
    """Six eighths in 6/8 are eighths; a stroke on each dotted quarter is a dotted quarter."""
    meta = mido.MetaMessage("time_signature", numerator=6, denominator=8)
    rows = [(step / 2, 42, 80) for step in range(6)] + [(0.0, 36, 80), (1.5, 36, 80)]

    pattern = midi_read.read(_foreign(rows, 480, 9, meta))

    assert {(note.voice, note.value) for note in pattern.notes} == {("hihat", "8"), ("kick", "4.")}


def test_velocities_become_levels() -> None:
    """Soft strokes are ghosts, loud ones accents; where all are loud, all are normal."""
    mixed = midi_read.read(_foreign([(0, 38, 115), (1, 38, 30), (2, 38, 80)]))
    loud = midi_read.read(_foreign([(0, 38, 127), (1, 38, 127)]))

    assert [note.level for note in mixed.notes] == [Level.ACCENT, Level.GHOST, Level.NORMAL]
    assert {note.level for note in loud.notes} == {Level.NORMAL}


def test_zones_come_through_the_note_map() -> None:
    """Open hi-hat, cross-stick and bell keep their zones; ordinary places have none."""
    pattern = midi_read.read(_foreign([(0, 46, 80), (1, 37, 80), (2, 53, 80), (3, 38, 80)]))

    spots = [(note.voice, note.zone) for note in pattern.notes]
    assert spots == [("hihat", "open"), ("snare", "cross-stick"), ("ride", "bell"), ("snare", "")]


def test_a_soft_stroke_just_before_another_is_its_grace() -> None:
    """A flam of 30 ms at 100 BPM: one main stroke on the beat, one grace stroke."""
    rows = [(0, 38, 80), (1 - 0.05, 38, 40), (1, 38, 80), (2, 38, 80)]

    notes = midi_read.read(_foreign(rows, bpm=100)).notes

    assert [(note.beat, note.grace) for note in notes] == [(0, 0), (1, 1), (1, 0), (2, 0)]


def test_fast_strokes_on_the_grid_are_no_graces() -> None:
    """A softer 32nd at 200 BPM is 37 ms before the next one and still a stroke of its own."""
    rows = [(step / 8, 38, 60 + step % 2 * 40) for step in range(32)]

    assert {note.grace for note in midi_read.read(_foreign(rows, bpm=200)).notes} == {0}


@pytest.mark.parametrize(
    ("parts", "value"), [(2, "8"), (3, "8t"), (4, "16"), (5, "16q"), (6, "16t")]
)
def test_played_strokes_find_their_grid(parts: int, value: str) -> None:
    """Strokes up to 12 ms beside their places at 90 BPM are put on the grid they were meant for."""
    rows = [
        (max(step / parts + ((step * 37 % 25) - 12) / 1000 * 1.5, 0.0), 38, 80)
        for step in range(8 * parts)
    ]

    notes = midi_read.read(_foreign(rows, bpm=90)).notes

    assert [note.beat for note in notes] == [Fraction(step, parts) for step in range(8 * parts)]
    assert {note.value for note in notes} == {value}


def test_another_channel_is_taken_and_reported() -> None:
    """Percussion on one other channel is read and the pattern says so; several are refused."""
    pattern = midi_read.read(_foreign([(0, 38, 80)], 480, 0))

    assert any("channel 1" in text for text in pattern.assumed)
    mixed = mido.MidiFile(type=0)
    mixed.tracks.append(
        mido.MidiTrack(mido.Message("note_on", channel=c, note=38, velocity=9) for c in (0, 1))
    )
    out = io.BytesIO()
    mixed.save(file=out)
    with pytest.raises(BadInput, match="several other channels"):
        midi_read.read(out.getvalue())


def test_unknown_notes_are_reported() -> None:
    """A note that is no drum of the kit is left out, and the pattern says which."""
    pattern = midi_read.read(_foreign([(0, 38, 80), (1, 81, 80)]))

    assert any("1 of note 81" in text for text in pattern.assumed)


def test_feet_play_the_voices_of_the_feet() -> None:
    """Kick is the right foot, the hi-hat pedal the left."""
    pattern = midi_read.read(_foreign([(0, 36, 80), (1, 44, 80)]))

    assert [note.limb for note in pattern.notes] == [Limb.RF, Limb.LF]


def test_no_percussion_is_bad_input() -> None:
    """A file without notes is refused with its name."""
    with pytest.raises(BadInput, match="song: the file has no percussion"):
        midi_read.read(_foreign([]), name="song")


def test_a_stroke_hours_away_is_refused() -> None:
    """A file whose last stroke stands millions of bars later is refused before bars are made."""
    with pytest.raises(BadInput, match="more than 20,000 bars"):
        midi_read.read(_foreign([(0, 38, 80), (500_000, 38, 80)]))


@pytest.mark.parametrize("name", [entry.name for entry in library.catalogue()])
def test_every_shipped_pattern_returns(name: str) -> None:
    """Out and back in is the same pattern, but for what a MIDI file has no room for."""
    pattern = library.load_pattern(name)

    back = midi_read.read(to_midi(pattern), name=pattern.name)

    assert back == replace(pattern, about="", tags=(), level=None, assumed=())


def test_hands_are_assumed_where_no_sticking_is_written() -> None:
    """Singles of a strange file alternate, and pattern and notes say that this was assumed."""
    pattern = midi_read.read(_foreign([(step / 4, 38, 80) for step in range(4)]))

    assert [note.limb for note in pattern.notes] == [Limb.RH, Limb.LH] * 2
    assert all(note.hand_assumed for note in pattern.notes)
    assert HANDS_ASSUMED in pattern.assumed


def test_a_fault_names_the_file_once(tmp_path: Path) -> None:
    """Opened as a pattern, a broken file is reported by its name, the byte and the remedy."""
    path = tmp_path / "broken.mid"
    path.write_bytes(to_midi(library.load_pattern("climb-odd-numbers"))[:40])

    with pytest.raises(BadInput) as fault:
        library.load_pattern(str(path))

    assert str(fault.value).startswith("broken.mid, byte 40: the file ends inside a track; ")


def test_played_eighths_in_an_odd_meter_stay_eighths() -> None:
    """Eighths that wander by some 10 ms at 100 BPM (seeded) are never read as fives or sevens."""
    chance = random.Random(3)
    rows = [(max(step / 2 + chance.gauss(0, 0.017), 0.0), 42, 80) for step in range(140)]
    meta = mido.MetaMessage("time_signature", numerator=7, denominator=8)

    notes = midi_read.read(_foreign(rows, 480, 9, meta, bpm=100)).notes

    assert [note.beat for note in notes] == [Fraction(step, 2) for step in range(140)]
    assert {note.value for note in notes} == {"8"}


@pytest.mark.parametrize("unit", [1, 2, 4, 8, 16, 32, 64])
@pytest.mark.parametrize("beats", [1, 5, 6])
def test_strokes_off_every_grid_are_placed_in_every_meter(beats: int, unit: int) -> None:
    """Random strokes (seeded) in any meter: every one is kept or named, none crashes the reader."""
    chance = random.Random(beats * unit)
    rows = [(chance.random() * 12, chance.choice((38, 42, 36)), 80) for _ in range(40)]
    meta = mido.MetaMessage("time_signature", numerator=beats, denominator=unit)

    pattern = midi_read.read(_foreign(rows, 480, 9, meta))

    lost = sum(int(text.split()[2]) for text in pattern.assumed if text.startswith("left out"))
    graces = sum(note.grace > 0 for note in pattern.notes)
    assert pattern.strokes + graces + lost == len(rows)
    assert all(0 <= note.beat < pattern.length for note in pattern.notes)


FELT = notation.read(
    {"hands": {"sticking": "R L R L", "value": "8"}, "length": 2, "tempo": 100}, "felt"
)


def _seconds(pattern: Pattern) -> list[float]:
    """Return when mido plays the strokes of an exported pattern."""
    now, found = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(to_midi(pattern))):
        now += message.time
        if message.type == "note_on":
            found.append(now)
    return found


def test_swing_sounds() -> None:
    """At 2:1 the second eighth of each beat comes at two thirds of it."""
    swung = replace(FELT, swing=(Swing(Fraction(0), Fraction(4), "8", Fraction(2, 3)),))
    beat = 0.6

    assert _seconds(swung)[:4] == pytest.approx([0, beat * 2 / 3, beat, beat * 5 / 3], abs=1e-4)
    assert _seconds(swung)[8:10] == pytest.approx([4 * beat, 4.5 * beat], abs=1e-4)


def test_tempo_changes_sound() -> None:
    """A bar at 100, then one at 50; and a bar that speeds up takes as long as is played here."""
    slower = replace(FELT, tempo_changes=(TempoChange(Fraction(4), 50.0),))
    rising = replace(FELT, tempo_changes=(TempoChange(Fraction(0), 100.0, Fraction(8), 200.0),))
    due = [place * 0.6 for place in PlayedPlaces(rising).notes]

    assert _seconds(slower)[8:10] == pytest.approx([2.4, 3.0], abs=1e-4)
    assert _seconds(rising) == pytest.approx(due, abs=0.004)


def test_dynamics_sound() -> None:
    """Softer marks are softer strokes, and a crescendo grows."""
    marks = (Dynamic(Fraction(0), "pp", Fraction(4), "f"), Dynamic(Fraction(4), "f"))
    file = mido.MidiFile(file=io.BytesIO(to_midi(replace(FELT, dynamics=marks))))
    loud = [one.velocity for one in file if one.type == "note_on"]

    assert loud[:9] == sorted(set(loud[:9]))
    assert set(loud[9:]) == {loud[8]}


def test_tempo_changes_of_another_program_are_read() -> None:
    """Each tempo event behind the first is a change, in the pattern's own unit."""
    track = mido.MidiTrack()
    for bpm, wait in ((100, 0), (100, 480), (75, 960)):
        track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm), time=wait))
        track.append(mido.Message("note_on", channel=9, note=38, velocity=90, time=0))
    track.append(mido.Message("note_on", channel=9, note=38, velocity=90, time=960))
    file, out = mido.MidiFile(ticks_per_beat=480), io.BytesIO()
    file.tracks.append(track)
    file.save(file=out)

    assert midi_read.read(out.getvalue()).tempo_changes == (TempoChange(Fraction(3), 75.0),)
