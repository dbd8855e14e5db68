"""One chord or rest of a percussion part, written as MusicXML notes.

What a note says beyond its notation is written beside it as `key word` pairs in a hidden
other-notation, only where a reader would guess otherwise: `value 16`, `limb LH`, `limb none`,
`hand assumed`, and `level accent` or `level normal` in a chord, which has one accent sign for all
its heads.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from trainer.kit.voices import ROW, VOICES, full_zone
from trainer.pattern.model import FOOT_LIMB, HAND_ASSUMED, HANDS, NOTE_VALUES, Level
from trainer.pattern.rhythm import is_foot
from trainer.pattern.staff import Glyph, staff_place, sticking_letters, sticking_limbs

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainer.pattern.model import Limb, Note

    Values = Mapping[tuple[bool, Fraction], str]

DIVISIONS = math.lcm(16, *(value.length.denominator for value in NOTE_VALUES.values()))
"""Parts of a quarter note: every note value, tuplets included, is a whole number of them.

A finished document has as few as it needs.
"""

PART = "P1"
SOFTWARE = "midi-kit-trainer"
SECTION = "section"
"""The first word of a hidden direction where a section starts; its count of times follows."""

TYPES = {1: "whole", 2: "half", 4: "quarter", 8: "eighth", 16: "16th", 32: "32nd", 64: "64th"}

BEAT_UNITS = {
    Fraction(4): ("whole", 0),
    Fraction(2): ("half", 0),
    Fraction(3): ("half", 1),
    Fraction(1): ("quarter", 0),
    Fraction(3, 2): ("quarter", 1),
    Fraction(1, 2): ("eighth", 0),
    Fraction(3, 4): ("eighth", 1),
    Fraction(1, 4): ("16th", 0),
}
"""A tempo's unit in quarter notes as a note and its dots."""

_ILLEGAL = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def add_element(parent: ET.Element, tag: str, text: object = None, **attributes: str) -> ET.Element:
    """Append an element and return it; underscores in attribute names become hyphens."""
    names = {name.replace("_", "-"): clean(value) for name, value in attributes.items()}
    element = ET.SubElement(parent, tag, names)
    if text is not None:
        element.text = clean(str(text))
    return element


def clean(text: str) -> str:
    """Return text with the characters XML 1.0 forbids (most controls) made visible."""
    if text.isprintable():
        return text
    return _ILLEGAL.sub("\N{REPLACEMENT CHARACTER}", text)


def instrument_id(voice: str, zone: str) -> str:
    """Return the id of a drum in the file."""
    return f"{PART}-{voice}-{re.sub('[^A-Za-z0-9]', '-', full_zone(voice, zone))}"


def times_words(times: int) -> str:
    """Return how often a section is played, as it is written above it."""
    return f"{times} times" if times > 2 else ""


def write_glyph(measure: ET.Element, glyph: Glyph, voice: int, values: Values) -> None:
    """Append a chord with its grace strokes, or a rest, to a bar. Voice 1 is hands, 2 feet."""
    if not glyph.notes:
        note = add_element(measure, "note")
        add_element(note, "rest")
        _length(note, glyph, voice)
        _notations(note, ends=glyph)
        return
    chord = _chord(glyph, values)
    sets = [list(group) for _, group in groupby(glyph.graces, key=lambda one: one.grace)]
    for place, graces in enumerate(sets):
        for at, grace in enumerate(graces):
            note = add_element(measure, "note")
            add_element(note, "grace", **({"slash": "yes"} if len(sets) == 1 else {}))
            _drum(note, grace, chorded=at > 0)
            _grace_length(note, grace, voice, place, len(sets))
            _notations(note, accent=_accented(grace), hidden=chord.hidden[id(grace)])
    for at, head in enumerate(chord.heads):
        note = add_element(measure, "note")
        _drum(note, head, chorded=at > 0)
        _length(note, glyph, voice, head)
        for level, word in enumerate(() if at else glyph.beams, 1):
            add_element(note, "beam", word, number=str(level))
        struck = not glyph.tied_from
        _notations(
            note,
            ends=None if at else glyph,
            ties=glyph,
            accent=struck and not at and any(map(_accented, chord.heads)),
            buzz=struck and head.buzz,
            hidden=chord.hidden[id(head)] if struck else {},
        )
        if not at and chord.text and struck:
            lyric = add_element(note, "lyric", number="1", placement="below")
            add_element(lyric, "syllabic", "single")
            add_element(lyric, "text", chord.text)


@dataclass(frozen=True, slots=True)
class _Chord:
    """A chord's noteheads from the upper drum down, its sticking, and what stays out of sight.

    Both hands on one drum share a notehead. `hidden` goes by the identity of the note.
    """

    heads: tuple[Note, ...]
    text: str
    hidden: dict[int, dict[str, str]]


def _chord(glyph: Glyph, values: Values) -> _Chord:
    notes = sorted(glyph.notes, key=lambda note: ROW[note.voice])
    heads = [notes[0]]
    played: list[Limb | None] = [notes[0].written_limb]
    for note in notes[1:]:
        played.append(note.written_limb)
        if not (len(notes) == 2 and _one_drum(*notes)):
            heads.append(note)
    graces = [note.written_limb for note in glyph.graces]
    feet = is_foot(notes[0])
    text = "" if feet else sticking_letters(played, graces)
    reported, reported_graces = sticking_limbs(text)
    hidden = {}
    for at, head in enumerate(heads):
        guess = reported[at] if at < len(reported) else None
        hidden[id(head)] = _hidden(head, values[VOICES[head.voice].foot, head.beat], guess)
    for head in heads if any(map(_accented, heads)) else ():
        # A chord has one accent, written at its upper head.
        if _accented(head) is not (head is heads[0]):
            hidden[id(head)]["level"] = head.level
    for at, grace in enumerate(glyph.graces):
        guess = reported_graces[at] if len(reported_graces) == len(graces) else None
        hidden[id(grace)] = _hidden(grace, heads[0].value, guess)
    return _Chord(tuple(heads), text, hidden)


def _one_drum(one: Note, two: Note) -> bool:
    """Return whether both hands strike one drum alike, so that one notehead says it."""
    alike = replace(one, limb=None) == replace(two, limb=None)
    return alike and (one.written_limb, two.written_limb) == HANDS


def _hidden(note: Note, value: str, limb: Limb | None) -> dict[str, str]:
    """Return what a reader would not guess."""
    said = {}
    if note.value != value:
        said["value"] = note.value
    if note.limb != (limb or FOOT_LIMB.get(note.voice)):
        said["limb"] = note.limb or "none"
    if note.hand_assumed:
        said["hand"] = HAND_ASSUMED
    return said


def _drum(note: ET.Element, stroke: Note, *, chorded: bool) -> None:
    """Write which drum: chord sign and place on the staff."""
    if chorded:
        add_element(note, "chord")
    spot = staff_place(stroke.voice, stroke.zone)
    unpitched = add_element(note, "unpitched")
    add_element(unpitched, "display-step", spot.step)
    add_element(unpitched, "display-octave", spot.octave)


def _length(note: ET.Element, glyph: Glyph, voice: int, stroke: Note | None = None) -> None:
    """Write duration to notehead, in the order of the schema."""
    add_element(note, "duration", int(glyph.length * DIVISIONS))
    for kind in _ties(glyph):
        add_element(note, "tie", type=kind)
    if stroke:
        add_element(note, "instrument", id=instrument_id(stroke.voice, stroke.zone))
    add_element(note, "voice", voice)
    add_element(note, "type", TYPES[glyph.base])
    for _ in range(glyph.dots):
        add_element(note, "dot")
    if glyph.tuplet:
        change = add_element(note, "time-modification")
        add_element(change, "actual-notes", glyph.tuplet[0])
        add_element(change, "normal-notes", glyph.tuplet[1])
    if stroke:
        _head(note, stroke, voice, struck=not glyph.tied_from)


def _grace_length(note: ET.Element, stroke: Note, voice: int, place: int, count: int) -> None:
    """Write a grace stroke's type: one is a slashed eighth, more are beamed sixteenths."""
    add_element(note, "instrument", id=instrument_id(stroke.voice, stroke.zone))
    add_element(note, "voice", voice)
    add_element(note, "type", "eighth" if count == 1 else "16th")
    _head(note, stroke, voice)
    if count > 1 and note.find("chord") is None:
        word = {0: "begin", count - 1: "end"}.get(place, "continue")
        for level in ("1", "2"):
            add_element(note, "beam", word, number=level)


def _head(note: ET.Element, stroke: Note, voice: int, *, struck: bool = True) -> None:
    add_element(note, "stem", "up" if voice == 1 else "down")
    head = staff_place(stroke.voice, stroke.zone).head
    if struck and stroke.level is Level.GHOST:
        add_element(note, "notehead", head, parentheses="yes")
    elif head != "normal":
        add_element(note, "notehead", head)


def _accented(stroke: Note) -> bool:
    return stroke.level is Level.ACCENT


def _notations(
    note: ET.Element,
    *,
    ends: Glyph | None = None,
    ties: Glyph | None = None,
    accent: bool = False,
    buzz: bool = False,
    hidden: Mapping[str, str] | None = None,
) -> None:
    """Write ties, tuplet ends, buzz, accent and the hidden words, where there are any."""
    tied = _ties(ties) if ties else []
    at_end = ends is not None and (ends.opens or ends.closes)
    if not (tied or at_end or accent or buzz or hidden):
        return
    notations = add_element(note, "notations")
    for kind in tied:
        add_element(notations, "tied", type=kind)
    if ends and ends.opens:
        shown = "yes" if ends.bracket and ends.numbered else "no"
        number = "actual" if ends.numbered else "none"
        add_element(notations, "tuplet", type="start", bracket=shown, show_number=number)
    if ends and ends.closes:
        add_element(notations, "tuplet", type="stop")
    if buzz:
        add_element(add_element(notations, "ornaments"), "tremolo", 0, type="unmeasured")
    if accent:
        down = note.findtext("stem") == "down"
        place = "below" if down else "above"
        add_element(add_element(notations, "articulations"), "accent", placement=place)
    if hidden:
        words = " ".join(f"{key} {word}" for key, word in hidden.items())
        add_element(notations, "other-notation", words, type="single", print_object="no")


def _ties(glyph: Glyph) -> list[str]:
    """Return the ends of ties a note has."""
    return ["stop"] * glyph.tied_from + ["start"] * glyph.tied_on
