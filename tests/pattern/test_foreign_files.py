"""Files as other programs write them: what is read of each, and what is reported as left out.

The ways of writing are those of the MusicXML 4.0 reference, of the General MIDI percussion map, and
of tab as drummers type it; every file is written out by hand here.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from io import BytesIO

import mido
import pytest
from scores import FOUR, MIDI, above, attributes, places, read, score, stroke, words

from trainer.pattern import library
from trainer.pattern.formats import midi_read, musicxml_read
from trainer.pattern.formats.musicxml_write import to_musicxml
from trainer.pattern.model import Dynamic, Level, Limb, TempoChange


def test_a_single_bass_drum_is_the_kick() -> None:
    """General MIDI 35 without 36 is the kick of the right foot, and that is reported."""
    alone = read(FOUR, attributes() + stroke("kick", 16), midi=MIDI | {"kick": 36})
    both = {"snare": 36, "kick": 37}
    two = read(attributes() + stroke("kick", 8) + stroke("snare", 8), midi=both)

    assert alone.notes[-1].voice == "kick"
    assert alone.notes[-1].limb is Limb.RF
    assert any("kick" in line for line in alone.assumed)
    assert {note.voice for note in two.notes} == {"kick", "kick2"}


@pytest.mark.parametrize(("numbers", "voices"), [((35,), {"kick"}), ((35, 36), {"kick", "kick2"})])
def test_bass_drums_of_a_midi_file(numbers: tuple[int, ...], voices: set[str]) -> None:
    """The same holds for a MIDI file."""
    track = mido.MidiTrack()
    for number in numbers:
        track.append(mido.Message("note_on", channel=9, note=number, velocity=90, time=0))
        track.append(mido.Message("note_off", channel=9, note=number, velocity=0, time=480))

    assert {note.voice for note in midi_read.read(_saved(track)).notes} == voices


def _saved(*tracks: mido.MidiTrack) -> bytes:
    file = mido.MidiFile(ticks_per_beat=480)
    file.tracks.extend(tracks)
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def test_the_tempo_of_another_track_is_read() -> None:
    """A MIDI file whose tempo is in its last track is read with it."""
    drums, last = mido.MidiTrack(), mido.MidiTrack()
    drums.append(mido.Message("note_on", channel=9, note=38, velocity=90, time=0))
    drums.append(mido.Message("note_off", channel=9, note=38, velocity=0, time=480))
    last.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(97), time=0))

    assert midi_read.read(_saved(drums, last)).tempo == pytest.approx(97, abs=0.01)


PIANO = (
    '<score-part id="P0"><part-name>Piano</part-name></score-part>|'
    '<part id="P0"><measure number="1"><direction><direction-type><metronome><beat-unit>quarter'
    "</beat-unit><per-minute>97</per-minute></metronome></direction-type></direction><note><pitch>"
    "<step>C</step><octave>4</octave></pitch><duration>4</duration></note></measure></part>"
)


def test_the_tempo_of_another_part_is_read() -> None:
    """A score has its tempo above the top staff only."""
    assert read(FOUR, others=PIANO).tempo == 97


def test_what_is_above_the_upper_staff_alone_counts_for_the_kit() -> None:
    """Later tempos, swing, jumps and rehearsal marks of another part, but not its dynamics."""
    piano = (
        PIANO.replace("</measure>", words("Swing") + "</measure>")
        + f'<part id="P0"><measure number="1">{stroke(length=16)}</measure><measure number="2">'
        + above("<rehearsal>B</rehearsal>")
        + above("<dynamics><ff/></dynamics>")
        + above("<metronome><beat-unit>quarter</beat-unit><per-minute>80</per-minute></metronome>")
        + words("D.C. al Fine")
        + "</measure></part>"
    )
    found = read(
        FOUR, above("<dynamics><p/></dynamics>") + words("straight") + stroke() * 4, others=piano
    )

    assert found.tempo == 97
    assert found.tempo_changes[0] == TempoChange(Fraction(4), 80.0)
    assert len(found.bars) == 4
    assert [one.title for one in found.sections] == ["B", "B"]
    assert found.dynamics == (Dynamic(Fraction(4), "p"),)


def test_midi_notes_counted_from_zero_are_noticed() -> None:
    """Where the staff contradicts the numbers from 1 and agrees with those from 0, 0 holds."""
    from_zero = {drum: number - 1 for drum, number in MIDI.items()}
    row = stroke("hat") + stroke("snare", before="<chord/>") + stroke("kick") + stroke("tom", 8)
    right, wrong = read(attributes() + row), read(attributes() + row, midi=from_zero)

    assert places(right) == places(wrong)
    assert any("counted from 0" in line for line in wrong.assumed)
    assert not any("counted from 0" in line for line in right.assumed)


def test_a_lone_snare_counted_from_zero_is_no_side_stick() -> None:
    """The zone decides where the drum is the same: a plain head in the snare's space."""
    wrong = read(FOUR, midi={"snare": MIDI["snare"] - 1})
    kick = read(attributes() + stroke("kick", 16), midi={"kick": 35})

    assert {note.zone for note in wrong.notes} == {""}
    assert any("counted from 0" in line for line in wrong.assumed)
    assert {note.voice for note in kick.notes} == {"kick"}
    assert any("counted from 0" in line for line in kick.assumed)


STICKED = [
    ("<lyric><text>R</text></lyric>", "<lyric><text>L</text></lyric>"),
    ("<lyric><text>r</text></lyric>", "<lyric><text>l</text></lyric>"),
    (
        "<lyric><text>one</text></lyric><lyric><text>R</text></lyric>",
        "<lyric><text>L</text></lyric>",
    ),
    (
        "<notations><technical><fingering>R</fingering></technical></notations>",
        "<notations><technical><fingering>L</fingering></technical></notations>",
    ),
    (
        "<notations><technical><pluck>R</pluck></technical></notations>",
        "<notations><technical><pluck>L</pluck></technical></notations>",
    ),
]


@pytest.mark.parametrize(("right", "left"), STICKED)
def test_stickings_as_other_programs_write_them(right: str, left: str) -> None:
    """Lyrics in capitals or not, in a second verse, fingerings and plucks: L L R R."""
    row = stroke(inside=left) * 2 + stroke(inside=right) * 2
    pattern = read(attributes() + row)

    assert [note.limb for note in pattern.notes] == [Limb.LH, Limb.LH, Limb.RH, Limb.RH]
    assert not any("sticking" in line for line in pattern.assumed)


def test_a_sticking_in_words() -> None:
    """Words that are letters of hands belong to the note after them."""
    row = "".join(words(letter) + stroke() for letter in ("L", "LH", "R", "R"))

    hands = [note.limb for note in read(attributes() + row).notes]
    assert hands == [Limb.LH, Limb.LH, Limb.RH, Limb.RH]


def other_part(name: str, drum: str, *measures: str) -> str:
    """Return the head and body of another percussion part."""
    number = MIDI[drum]
    inside = "".join(f"<measure>{text}</measure>" for text in measures)
    return (
        f'<score-part id="P2"><part-name>{name}</part-name><score-instrument id="P1-{drum}">'
        f"<instrument-name>{name}</instrument-name></score-instrument>"
        f'<midi-instrument id="P1-{drum}">'
        f"<midi-unpitched>{number}</midi-unpitched></midi-instrument></score-part>|"
        f'<part id="P2">{inside}</part>'
    )


def test_a_kit_in_several_parts_is_one() -> None:
    """A staff for each drum is one kit."""
    pattern = read(
        FOUR, others=other_part("Bass Drum", "kick", attributes() + stroke("kick", 8) * 1)
    )

    assert places(pattern)[:2] == [(Fraction(0), "kick"), (Fraction(0), "snare")]
    assert any("2 parts are one kit: Drumset, Bass Drum" in line for line in pattern.assumed)


def test_another_percussion_part_is_reported() -> None:
    """A second player's snare is left out by name."""
    pattern = read(FOUR, others=other_part("Marching snare", "snare", attributes() + stroke() * 2))

    assert len(pattern.notes) == 4
    assert 'left out: the percussion part "Marching snare", 2 notes' in pattern.assumed


def test_pitches_under_a_percussion_clef_are_drums() -> None:
    """A drum part written with pitches is read from the staff."""
    row = "".join(
        f"<note><pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>4</duration>"
        "</note>"
        for step, octave in (("F", 4), ("C", 5), ("F", 4), ("C", 5))
    )

    assert [voice for _, voice in places(read(attributes() + row))] == ["kick", "snare"] * 2


def test_drums_by_the_names_of_their_instruments() -> None:
    """Without MIDI notes an instrument's name counts more than its place."""
    data = score(FOUR, midi={}).replace(b"<instrument-name>snare", b"<instrument-name>Bass Drum")

    assert {note.voice for note in musicxml_read.read(data).notes} == {"kick"}


LOST = {
    "fermatas": stroke(inside="<notations><fermata/></notations>"),
    "trills": stroke(inside="<notations><ornaments><trill-mark/></ornaments></notations>"),
    "cue notes": stroke(before="<cue/>"),
    "bars of slashes": (
        '<attributes><measure-style><slash type="start"/></measure-style></attributes>' + stroke()
    ),
    "gradual changes of tempo in words": words("poco rit.") + stroke(),
}


@pytest.mark.parametrize("what", LOST)
def test_nothing_is_lost_without_a_word(what: str) -> None:
    """What is not read is reported with its count and first measure."""
    pattern = read(FOUR, LOST[what])

    assert any(
        line.startswith("left out:") and what in line and "first in measure 2" in line
        for line in pattern.assumed
    )


@pytest.mark.parametrize(
    ("beats", "groups"),
    [
        ("<beats>3+2+2</beats><beat-type>8</beat-type>", (3, 2, 2)),
        (
            "<beats>3</beats><beat-type>8</beat-type><beats>2</beats><beat-type>4</beat-type>",
            (3, 4),
        ),
    ],
)
def test_meters_of_several_parts(beats: str, groups: tuple[int, ...]) -> None:
    """Added meters are one meter, with the groups that are written."""
    meter = read(attributes(beats) + stroke(length=2) * 7).meter

    assert (str(meter), meter.groups) == ("7/8", groups)


def test_our_own_titles_are_no_signs() -> None:
    """A section of ours that is called Coda, or 3 times, stays a title."""
    pattern = library.load_pattern("displaced-accent")
    titles = ["Coda", "3 times", "D.C.", ""]
    sections = tuple(
        replace(section, title=title)
        for section, title in zip(pattern.sections, titles, strict=True)
    )
    named = replace(pattern, sections=sections)

    assert musicxml_read.read(to_musicxml(named).encode(), name=named.name) == named


def test_velocities_of_a_drum_machine() -> None:
    """A MIDI file of one loudness has no accents; of several it has."""
    track = mido.MidiTrack()
    for velocity in (30, 80, 120, 80):
        track.append(mido.Message("note_on", channel=9, note=38, velocity=velocity, time=0))
        track.append(mido.Message("note_on", channel=9, note=38, velocity=0, time=240))

    levels = [note.level for note in midi_read.read(_saved(track)).notes]
    assert levels == [Level.GHOST, Level.NORMAL, Level.ACCENT, Level.NORMAL]


def roll(text: str, kind: str = "single") -> str:
    """Return the notation of a tremolo."""
    return f'<notations><ornaments><tremolo type="{kind}">{text}</tremolo></ornaments></notations>'


@pytest.mark.parametrize(
    ("slashes", "length", "type_", "strokes"),
    [("1", 4, "quarter", 2), ("2", 4, "quarter", 4), ("1", 2, "eighth", 2), ("2", 8, "half", 8)],
)
def test_slashes_through_a_stem_are_strokes(
    slashes: str, length: int, type_: str, strokes: int
) -> None:
    """A quarter with one slash is two eighths, an eighth with one is two sixteenths."""
    pattern = read(
        attributes() + stroke(length=length, inside=f"<type>{type_}</type>{roll(slashes)}")
    )

    step = Fraction(length, 4) / strokes
    assert places(pattern) == [(at * step, "snare") for at in range(strokes)]
    assert not any(note.buzz for note in pattern.notes)


@pytest.mark.parametrize(("slashes", "kind"), [("3", "single"), ("0", "unmeasured")])
def test_rolls_are_buzz_strokes(slashes: str, kind: str) -> None:
    """Three slashes, or a tremolo that counts nothing, are one stroke that buzzes."""
    pattern = read(attributes() + stroke(inside=f"<type>quarter</type>{roll(slashes, kind)}"))

    assert [(note.beat, note.buzz) for note in pattern.notes] == [(0, True)]


def test_grace_strokes_keep_their_drum() -> None:
    """A flam from the tom to the snare has its grace stroke on the tom."""
    grace = stroke("tom", before="<grace/>").replace("<duration>4</duration>", "")
    notes = read(attributes() + grace + stroke()).notes

    assert [(note.voice, note.grace) for note in notes] == [("tom1", 1), ("snare", 0)]


def test_swing_tempo_and_dynamics_are_read() -> None:
    """By elements, and swing in words; each holds from where it is written."""
    swing = "<first>2</first><second>1</second><swing-type>eighth</swing-type>"
    tempo = "<metronome><beat-unit>quarter</beat-unit><per-minute>{}</per-minute></metronome>"
    pattern = read(
        attributes() + above(tempo.format(100)) + words("Medium swing") + stroke() * 4,
        above(tempo.format(80)) + above("<dynamics><p/></dynamics>") + stroke() * 4,
        f"<sound><swing>{swing}</swing></sound>"
        + above('<wedge type="crescendo"/>')
        + stroke() * 4,
        above('<wedge type="stop"/>')
        + above("<dynamics><ff/></dynamics>")
        + words("straight")
        + stroke() * 4,
    )

    assert pattern.tempo == 100
    assert pattern.tempo_changes == (TempoChange(Fraction(4), 80.0),)
    assert [(one.start, one.end, one.share) for one in pattern.swing] == [
        (0, 8, Fraction(2, 3)),
        (8, 12, Fraction(2, 3)),
    ]
    assert pattern.dynamics == (
        Dynamic(Fraction(4), "p"),
        Dynamic(Fraction(8), "p", Fraction(12), "ff"),
    )
