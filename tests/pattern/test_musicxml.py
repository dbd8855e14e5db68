"""MusicXML out and back in, and scores of others."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.errors import BadInput
from trainer.pattern import library
from trainer.pattern.formats import musicxml_read
from trainer.pattern.formats.musicxml_write import to_musicxml
from trainer.pattern.language import notation
from trainer.pattern.language.rows import HANDS_ASSUMED
from trainer.pattern.model import Level, Limb

from .made import patterns
from .schema import faults

if TYPE_CHECKING:
    from pathlib import Path
    from xml.etree.ElementTree import Element

    from trainer.pattern.model import Pattern


@given(patterns())
@settings(max_examples=60, deadline=None)
def test_out_and_back_in_is_the_same_pattern(pattern: Pattern) -> None:
    """Everything a pattern says returns: notes, bars, sections, words; and the schema is met."""
    text = to_musicxml(pattern)

    assert musicxml_read.read(text.encode(), name=pattern.name) == pattern
    assert faults(text) == []


@pytest.mark.parametrize("name", [entry.name for entry in library.catalogue()])
def test_every_shipped_pattern_returns(name: str) -> None:
    """Out and back in is the same pattern, whole, and the document is valid."""
    pattern = library.load_pattern(name)
    text = to_musicxml(pattern)

    assert musicxml_read.read(text.encode(), name=name) == pattern
    assert faults(text) == []


def _score(measures: str, head: str = "", encoding: str = "") -> bytes:
    """Return a score as another program writes it: no stickings, drums by their MIDI notes."""
    drums = {"I36": 37, "I38": 39, "I42": 43}
    names = "".join(
        f'<score-instrument id="{i}"><instrument-name>d</instrument-name></score-instrument>'
        for i in drums
    )
    midi = "".join(
        f'<midi-instrument id="{i}"><midi-channel>10</midi-channel>'
        f"<midi-unpitched>{n}</midi-unpitched></midi-instrument>"
        for i, n in drums.items()
    )
    return (
        f'<?xml version="1.0"{encoding}?>{head}<score-partwise version="3.1"><part-list>'
        f'<score-part id="P1"><part-name>Drums</part-name>{names}{midi}</score-part></part-list>'
        f'<part id="P1">{measures}</part></score-partwise>'
    ).encode()


def _note(duration: int, drum: str = "I38", more: str = "", extra: str = "") -> str:
    return (
        f"<note>{more}<unpitched><display-step>C</display-step><display-octave>5</display-octave>"
        f'</unpitched><duration>{duration}</duration><instrument id="{drum}"/><voice>1</voice>'
        f"{extra}</note>"
    )


_START = (
    "<attributes><divisions>6</divisions>"
    "<time><beats>2</beats><beat-type>4</beat-type></time></attributes>"
)


def test_drums_come_from_the_midi_instruments() -> None:
    """midi-unpitched counts from 1: 37 is the kick, 39 the snare, 43 the closed hi-hat."""
    row = "".join(_note(3, drum) for drum in ("I36", "I38", "I42", "I38"))

    pattern = musicxml_read.read(_score(f"<measure>{_START}{row}</measure>"))

    assert [note.voice for note in pattern.notes] == ["kick", "snare", "hihat", "snare"]
    assert [note.value for note in pattern.notes] == ["4", "8", "8", "8"]
    assert HANDS_ASSUMED in pattern.assumed


def test_lyrics_are_the_sticking() -> None:
    """R and L below the notes are taken as the hands, B as both."""
    lyric = "<lyric><text>{}</text></lyric>"
    row = "".join(_note(3, extra=lyric.format(hand)) for hand in "RRLB")

    pattern = musicxml_read.read(_score(f"<measure>{_START}{row}</measure>"))

    assert [note.limb for note in pattern.notes] == [
        Limb.RH,
        Limb.RH,
        Limb.LH,
        Limb.RH,
        Limb.LH,
    ]
    assert pattern.assumed == ("tempo: 60 BPM, as the file has none",)


def test_accents_and_ghosts() -> None:
    """An accent sign is an accent, a head in parentheses a ghost note."""
    ghost = '<notehead parentheses="yes">normal</notehead>'
    accent = "<notations><articulations><accent/></articulations></notations>"
    row = _note(6, extra=ghost) + _note(6, extra=accent)

    pattern = musicxml_read.read(_score(f"<measure>{_START}{row}</measure>"))

    assert [note.level for note in pattern.notes] == [Level.GHOST, Level.ACCENT]


def test_repeats_and_endings_are_written_out() -> None:
    """Two bars with a first and a second ending are played 1 2 1 3."""
    one = f"<measure>{_START}{_note(12)}</measure>"
    first = (
        '<measure><barline location="left"><ending number="1" type="start"/></barline>'
        f'{_note(6)}{_note(6)}<barline location="right"><ending number="1" type="stop"/>'
        '<repeat direction="backward"/></barline></measure>'
    )
    second = (
        '<measure><barline location="left"><ending number="2" type="start"/></barline>'
        f'{_note(3) * 4}<barline location="right"><ending number="2" type="stop"/></barline>'
        "</measure>"
    )

    pattern = musicxml_read.read(_score(one + first + second))

    starts = [bar.start for bar in pattern.bars]
    counts = [sum(start <= n.beat < start + 2 for n in pattern.notes) for start in starts]
    assert counts == [1, 2, 1, 4]


def test_a_plain_repeat_is_a_section() -> None:
    """A bar to be played three times is one section of three bars."""
    end = '<barline location="right"><repeat direction="backward" times="3"/></barline>'

    pattern = musicxml_read.read(_score(f"<measure>{_START}{_note(12)}{end}</measure>"))

    assert [(s.first_bar, s.bar_count, s.times) for s in pattern.sections] == [(0, 3, 3)]
    assert pattern.length == 6


def test_repeats_that_explode_are_refused() -> None:
    """A repeat of a million bars is refused, and says why."""
    end = '<barline location="right"><repeat direction="backward" times="999999"/></barline>'

    with pytest.raises(BadInput, match="more than 20,000 bars"):
        musicxml_read.read(_score(f"<measure>{_START}{_note(12)}{end}</measure>"))


def test_a_pickup_is_a_short_bar() -> None:
    """An implicit measure of one quarter is a bar of 1/4."""
    pattern = musicxml_read.read(
        _score(
            f'<measure implicit="yes">{_START}{_note(6)}</measure><measure>{_note(12)}</measure>'
        )
    )

    assert [str(bar.meter) for bar in pattern.bars] == ["1/4", "2/4"]
    assert [note.beat for note in pattern.notes] == [0, 1]


@pytest.mark.parametrize(
    ("sticking", "rhythm", "length"),
    [("R lR", "2. 2 2.", 2), ("lR L", "4 2 2 2 4 4", 2), ("R lR", "8t 4 8t 4 4", 1)],
)
def test_a_grace_stroke_is_written_once_where_its_main_is_tied(
    sticking: str, rhythm: str, length: int
) -> None:
    """A flam that lasts over the bar line, or into a tuplet, has one small note."""
    hands = {"sticking": sticking, "rhythm": rhythm}
    pattern = notation.read({"hands": hands, "meter": "4/4", "length": length}, "t")

    assert to_musicxml(pattern).count("<grace") == sum(note.grace > 0 for note in pattern.notes)


def test_a_tied_note_is_struck_once() -> None:
    """The second note of a tie is no stroke."""
    row = _note(6, extra="") + _note(6).replace("<instrument", '<tie type="stop"/><instrument')

    assert len(musicxml_read.read(_score(f"<measure>{_START}{row}</measure>")).notes) == 1


_BOMB = '<!DOCTYPE s [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
_OUTSIDE = '<!DOCTYPE s [<!ENTITY a SYSTEM "file:///etc/passwd">]>'


@pytest.mark.parametrize("head", [_BOMB, _OUTSIDE])
def test_entities_are_refused(head: str) -> None:
    """A document that declares entities, inside or outside, is refused unread."""
    with pytest.raises(BadInput, match="declares entities"):
        musicxml_read.read(_score("<measure/>", head))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no XML"),
        (b"<score-partwise>", "no XML"),
        (b"PK\x03\x04", "archive is damaged"),
        (b"<a>" * 100, "nested too deep"),
        (b"<score-timewise/>", "by parts"),
        (b"<html/>", "no MusicXML"),
        (b"<score-partwise/>", "no percussion"),
        (_score("<measure/>", "", ' encoding="utf-7"'), "encoding"),
        (_score(f"<measure>{_START}{_note(12)}</measure>".replace(">6<", ">0<", 1)), "divisions"),
        (_score(f"<measure>{_START}{_note(-1)}</measure>"), "measure 1: the duration"),
        (_score(f"<measure>{_START}{_note(99999)}</measure>"), "measure 1: the measure has no end"),
    ],
)
def test_what_cannot_be_read_is_reported(data: bytes, words: str) -> None:
    """Each unreadable file is one sentence with the file's name and the remedy."""
    with pytest.raises(BadInput, match=words) as fault:
        musicxml_read.read(data, name="song.xml")

    assert str(fault.value).startswith("song.xml")
    assert fault.value.fix


@given(at=st.integers(0, 3000), junk=st.binary(min_size=1, max_size=8))
@settings(deadline=None)
def test_damaged_files_never_crash(at: int, junk: bytes) -> None:
    """Bytes written over a good file give a pattern or BadInput, nothing else."""
    data = bytearray(_WHOLE)
    at %= len(data)
    data[at : at + len(junk)] = junk
    try:
        found: object = musicxml_read.read(bytes(data)).bars
    except BadInput as fault:
        found = fault.fix
    assert found


_WHOLE = to_musicxml(library.load_pattern("unison-groove")).encode()


@pytest.mark.parametrize("title", ["\x1b[31mred", "a\x00b", '<b> & "q" ]]>', "[bold]x[/]"])
def test_titles_are_escaped(title: str) -> None:
    """Markup in a title is text; a control character, illegal in XML, is shown as a sign."""
    pattern = replace(
        library.load_pattern("climb-odd-numbers"), title=title, about=title, tags=(title,)
    )
    text = to_musicxml(pattern)

    assert faults(text) == []
    back = musicxml_read.read(text.encode())
    assert back.title == re.sub("[\x00\x1b]", "\N{REPLACEMENT CHARACTER}", title)


def test_a_file_is_opened_as_a_pattern(tmp_path: Path) -> None:
    """Wherever a pattern is asked for, a .musicxml file will do."""
    path = tmp_path / "groove.musicxml"
    path.write_bytes(_WHOLE)

    assert library.load_pattern(str(path)).notes == library.load_pattern("unison-groove").notes


def test_a_stroke_no_value_can_write_is_refused() -> None:
    """A stroke at an eleventh of a beat is refused in words, not misplaced."""
    made = library.load_pattern("climb-odd-numbers")
    odd = replace(made, notes=(replace(made.notes[0], beat=Fraction(1, 11)),))

    with pytest.raises(BadInput, match="note values cannot write"):
        to_musicxml(odd)


def _written(**table: Any) -> Element:
    """Return the document of a pattern that is given as a parsed file."""
    text = to_musicxml(notation.read(table, "t"))
    assert faults(text) == []
    return ET.fromstring(text)


def test_a_chord_has_one_accent() -> None:
    """Both hands accented are one accent sign; the levels of each head still return."""
    for sticking, path in ((">B", "hihat+snare"), (">B", "snare"), (">R", "snare")):
        table = {"hands": {"sticking": sticking, "path": path, "value": "1"}}
        pattern = notation.read(table, "t")
        text = to_musicxml(pattern)
        assert len(ET.fromstring(text).findall(".//accent")) == 1
        assert musicxml_read.read(text.encode(), name="t").notes == pattern.notes


def test_the_accent_of_a_lower_drum_returns() -> None:
    """Where only the lower drum of a chord is accented the one sign is not taken for both."""
    bars = {"value": "4", "hihat": "xxxx", "snare": "-X-g", "sticking": "RBRB"}
    pattern = notation.read({"bars": bars}, "t")

    assert musicxml_read.read(to_musicxml(pattern).encode(), name="t").notes == pattern.notes


def test_noteheads_of_zones_have_a_key() -> None:
    """A slash for the rim is said in words at the start; a page without it says nothing."""
    hands = {"sticking": "R L", "path": "snare snare/rim"}
    words = [one.text for one in _written(hands=hands).iter("words")]
    plain = [one.text for one in _written(hands="R L").iter("words")]

    assert words == ["slashed: rim"]
    assert plain == []


def test_feet_alone_have_no_rest_for_the_hands() -> None:
    """A pattern for the feet alone is one stream; where hands rest for a bar a rest stands."""
    feet = {"kick": "x---", "value": "4"}
    alone = _written(feet=feet)
    second = {"hands": "none"}
    both = _written(hands="R L", feet=feet, section=[{}, second])

    assert alone.findall(".//rest[@measure]") == []
    assert len(both.findall(".//rest[@measure]")) == 1


def test_bars_are_numbered_as_they_are_played() -> None:
    """After a bar played eight times comes bar 9, as `trainer patterns show` counts."""
    document = _written(section=[{"hands": "R L", "times": 8}, {"hands": "R L R R"}])

    assert [one.get("number") for one in document.iter("measure")] == ["1", "9"]


def test_written_values_are_the_types_of_the_notes() -> None:
    """A dotted eighth is an eighth with a dot to any reader, a tie says what a bar line cuts."""
    document = _written(meter="6/8", hands={"sticking": "R L R", "rhythm": "8 8. 16 8 4"}, length=1)
    types = [(one.findtext("type"), len(one.findall("dot"))) for one in document.iter("note")]

    assert types == [("eighth", 0), ("eighth", 1), ("16th", 0), ("eighth", 0), ("quarter", 0)]


def test_every_mark_of_dynamics_is_written_in_its_order() -> None:
    """A wedge ends before the next begins, also between notes, and the mark it moves to is read."""
    section = [{"dynamics": "pp < ff", "times": 2}, {"dynamics": "ff > mp < f > p", "length": 2}]
    document = _written(hands={"sticking": "R L", "value": "16"}, section=section)
    wedges = [one.get("type") for one in document.iter("wedge")]
    marks = [one[0].tag for one in document.iter("dynamics")]

    moves = ["crescendo"] * 2 + ["diminuendo", "crescendo", "diminuendo"]
    assert wedges == [kind for move in moves for kind in (move, "stop")]
    assert marks == ["pp", "ff", "pp", "ff", "mp", "f", "p"]


def test_a_half_open_hi_hat_has_a_head_of_its_own() -> None:
    """Closed, half-open and open are three heads on one line."""
    document = _written(bars={"value": "4", "hihat": "xho-"})

    assert [one.text for one in document.iter("notehead")] == ["x", "circled", "circle-x"]
