"""Patterns written as MusicXML 4.0: one percussion part, hands with stems up, feet with stems down.

Everything a pattern says is in the file. What notation shows is written as notation: sticking as a
lyric below, accents, ghost notes in parentheses, grace strokes, tuplets, repeats with their count.
What it does not show is in elements the standard has for that and engravers skip: `about`, tags
and level as miscellaneous fields, and beside a note, as a hidden other-notation, its note value,
limb or zone where a reader would guess otherwise.
"""

from __future__ import annotations

import json
import math
from bisect import bisect_left
from copy import copy
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from trainer.kit.model import GENERAL_MIDI
from trainer.kit.voices import ROW, VOICES
from trainer.pattern.formats.musicxml_feel import feel_inside, tempo_direction, written_feel
from trainer.pattern.formats.musicxml_notes import (
    BEAT_UNITS,
    DIVISIONS,
    PART,
    SECTION,
    SOFTWARE,
    add_element,
    instrument_id,
    times_words,
    write_glyph,
)
from trainer.pattern.json_data import feel_to_dict
from trainer.pattern.model import NOTE_VALUES, beat_of
from trainer.pattern.rhythm import is_foot, spell, written_values
from trainer.pattern.staff import notehead_key, tuplet_spans

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterator, Sequence

    from trainer.pattern.model import Bar, Meter, Note, Pattern, Section
    from trainer.pattern.staff import Glyph

_DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">'
)

LONGEST = max(value.length for value in NOTE_VALUES.values())
"""How far a stroke may last beyond its bar, in quarter notes."""


def to_musicxml(*patterns: Pattern, title: str = "", bare: bool = False) -> str:
    """Return one or more patterns as a MusicXML document; each begins on a new system.

    `title` is at the head of the page, the pattern's own where there is only one. A `bare` document
    has no title, tempo and key of noteheads: the page around it has them. Raises BadInput for
    strokes on places that no note value can write.
    """
    root = ET.Element("score-partwise", version="4.0")
    _head(root, patterns, title, bare=bare)
    part = add_element(root, "part", id=PART)
    meter = None
    for pattern in patterns:
        heading = pattern.title if title or len(patterns) > 1 else ""
        _Writer(pattern, part, heading, bare=bare).write(meter)
        meter = pattern.bars[-1].meter
    _use_fewest_divisions(root)
    ET.indent(root, " ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{_DOCTYPE}\n' + ET.tostring(root, "unicode")


def _use_fewest_divisions(root: ET.Element) -> None:
    """Count durations in the largest part of a quarter note that all of them are whole in.

    The standard wants the number of parts to stay small: 16383 is the most some programs take.
    """
    counted = [one for tag in ("divisions", "duration", "offset") for one in root.iter(tag)]
    elements = {id(one): one for one in counted}.values()
    part = math.gcd(*(int(one.text or 0) for one in elements))
    for one in elements:
        one.text = str(int(one.text or 0) // part)


def _head(root: ET.Element, patterns: Sequence[Pattern], title: str, *, bare: bool) -> None:
    """Write title, maker, hidden fields and the list of drums."""
    first = patterns[0]
    if not bare and (title or len(patterns) == 1):
        add_element(add_element(root, "work"), "work-title", title or first.title)
    identification = add_element(root, "identification")
    add_element(add_element(identification, "encoding"), "software", SOFTWARE)
    if len(patterns) == 1:
        fields = {"about": first.about, "level": "" if first.level is None else str(first.level)}
        feel = feel_to_dict(first)
        fields["feel"] = json.dumps(feel) if feel else ""
        fields |= {f"tag {number}": tag for number, tag in enumerate(first.tags, 1)}
        fields |= {f"assumed {number}": text for number, text in enumerate(first.assumed, 1)}
        hidden = add_element(identification, "miscellaneous")
        for name, text in fields.items():
            if text:
                add_element(hidden, "miscellaneous-field", text, name=name)
    part = add_element(add_element(root, "part-list"), "score-part", id=PART)
    add_element(part, "part-name", "Drum kit", print_object="no")
    spots = {(note.voice, note.zone) for pattern in patterns for note in pattern.notes}
    drums = sorted(spots, key=lambda spot: (ROW[spot[0]], spot[1]))
    for voice, zone in drums:
        title = VOICES[voice].title
        instrument = add_element(part, "score-instrument", id=instrument_id(voice, zone))
        add_element(instrument, "instrument-name", f"{title}, {zone}" if zone else title)
    for voice, zone in drums:
        midi = add_element(part, "midi-instrument", id=instrument_id(voice, zone))
        add_element(midi, "midi-channel", 10)
        number = GENERAL_MIDI.note(voice, zone)
        if number is not None:
            add_element(midi, "midi-unpitched", number + 1)


class _Writer:
    """One pattern on its way into a part."""

    def __init__(self, pattern: Pattern, part: ET.Element, heading: str, *, bare: bool) -> None:
        self.pattern, self.part, self.heading, self.bare = pattern, part, heading, bare
        self.values = written_values(pattern.notes, pattern.bars)
        self.hands = Stream([note for note in pattern.notes if not is_foot(note)], tied=True)
        self.feet = Stream([note for note in pattern.notes if is_foot(note)], tied=False)
        self.written: dict[tuple[int, int, Meter], list[ET.Element]] = {}
        self.feel = written_feel(pattern)

    def write(self, meter: Meter | None) -> None:
        """Write every bar, one turn of each repeat.

        `meter` is in force where another pattern comes before, None at the head of the part.
        """
        number = 0
        for section, repeated, first, after in _runs(self.pattern):
            until = self.pattern.bars[after - 1].end
            for index in range(first, after):
                bar = self.pattern.bars[index]
                # Bars are counted as they are played, repeats and all.
                measure = add_element(self.part, "measure", number=str(index + 1))
                if meter and not number:
                    add_element(measure, "print", new_system="yes")
                _attributes(measure, bar.meter, meter, first=not number)
                meter = bar.meter
                if not number and not self.bare:
                    self._start(measure)
                if index == first and section:
                    _section_mark(measure, section, repeated)
                self._bar(measure, bar, until)
                if index == after - 1 and section and repeated:
                    _repeat_end(measure, section.times)
                elif bar is self.pattern.bars[-1]:
                    _barline(measure, "right", "light-heavy")
                number += 1

    def _start(self, measure: ET.Element) -> None:
        """Write the heading, where the page has several, the tempo, and the key of noteheads."""
        pattern = self.pattern
        unit = pattern.tempo_unit if pattern.tempo_unit in BEAT_UNITS else Fraction(1)
        bpm = pattern.tempo * float(pattern.tempo_unit / unit)
        direction = tempo_direction(bpm, unit)
        if self.heading:
            # The wide blank keeps the tempo apart on the same line.
            heading = f"{self.heading}\N{EM SPACE}\N{EM SPACE}"
            words = ET.Element("direction-type")
            add_element(words, "words", heading, font_weight="bold", font_size="14")
            direction.insert(0, words)
        measure.append(direction)
        for heads in notehead_key({(note.voice, note.zone) for note in pattern.notes}):
            line = add_element(
                add_element(measure, "direction", placement="above"), "direction-type"
            )
            add_element(line, "words", heads, font_style="italic", font_size="10")

    def _marks(self, bar: Bar) -> dict[int, list[ET.Element]]:
        """Return the changes of swing, tempo and dynamics inside a bar, by their places in it."""
        last = bar is self.pattern.bars[-1]
        found: dict[int, list[ET.Element]] = {}
        for place, direction in self.feel:
            if bar.start <= place < bar.end or (last and place == bar.end):
                at = int((place - bar.start) * DIVISIONS)
                found.setdefault(at, []).append(copy(direction))
        return found

    def _bar(self, measure: ET.Element, bar: Bar, until: Fraction) -> None:
        """Write a bar's notes; bars that are alike share their elements."""
        hands, feet = self.hands.bar(bar, until), self.feet.bar(bar, until)
        alike = id(hands), id(feet), bar.meter
        if alike not in self.written:
            self.written[alike] = list(self._notes(hands, feet, bar.meter))
        elements, marks = self.written[alike], self._marks(bar)
        *before, last = _with_marks(elements, marks) if marks else elements
        measure.extend(before)
        # Its own indentation depends on what follows.
        measure.append(copy(last))

    def _notes(self, hands: list[Glyph], feet: list[Glyph], meter: Meter) -> ET.Element:
        """Return the notes of a bar as children of an element."""
        measure = ET.Element("measure")
        length = int(meter.length * DIVISIONS)
        for glyph in hands:
            write_glyph(measure, glyph, 1, self.values)
        if not hands and (self.hands.notes or not feet):
            note = add_element(measure, "note")
            add_element(note, "rest", measure="yes")
            add_element(note, "duration", length)
            add_element(note, "voice", 1)
        if feet and self.hands.notes:
            add_element(add_element(measure, "backup"), "duration", length)
        shown = {span for span, _ in tuplet_spans(hands)}
        twice = {at for span, at in tuplet_spans(feet) if span in shown}
        for at, glyph in enumerate(feet):
            once = replace(glyph, numbered=False) if at in twice else glyph
            write_glyph(measure, once, 2, self.values)
        return measure


def _with_marks(
    notes: Sequence[ET.Element], marks: dict[int, list[ET.Element]]
) -> list[ET.Element]:
    """Return a bar's notes with its marks before the first voice's notes they belong to.

    One between two notes is before the former, with its distance: not all programs read that.
    """
    found: list[ET.Element] = []
    now = 0
    waiting = dict(marks)
    for at, note in enumerate(notes):
        if note.tag == "backup":  # the marks of the bar's end are before it
            return [*found, *_due(waiting, now, max(waiting, default=0)), *notes[at:]]
        if note.find("chord") is None:
            after = now + int(note.findtext("duration") or 0)
            found += _due(waiting, now, max(now, after - 1))
            now = after
        found.append(note)
    return [*found, *_due(waiting, now, max(waiting, default=0))]


def _due(waiting: dict[int, list[ET.Element]], now: int, last: int) -> Iterator[ET.Element]:
    """Take out what waits for places up to the last one, in their order, with the distance."""
    for place in sorted(place for place in waiting if place <= last):
        for direction in waiting.pop(place):
            if place != now:
                offset = ET.Element("offset")
                offset.text = str(place - now)
                direction.insert(len(direction.findall("direction-type")), offset)
            yield direction


class Stream:
    """The strokes of the hands, or of the feet, taken bar by bar; `held` last into the next bar.

    Strokes that are not `tied` end with their bar: what a foot strikes does not sound on.
    """

    def __init__(self, notes: list[Note], *, tied: bool = True) -> None:
        self.notes, self.tied = notes, tied
        self.held: tuple[Note, ...] = ()
        self._spelled: dict[Hashable, list[Glyph]] = {}

    def bar(self, bar: Bar, until: Fraction) -> list[Glyph]:
        """Return a bar's glyphs; nothing lasts beyond `until`, where a repeat may begin or end.

        Bars that are alike get the same list, spelled once.
        """
        low, high = (bisect_left(self.notes, edge, key=beat_of) for edge in (bar.start, bar.end))
        inside = self.notes[low:high]
        following = self.notes[high].beat if high < len(self.notes) else until
        last = min(following, until, bar.end + (LONGEST if self.tied else 0))
        alike = bar.meter, last - bar.start, _from(self.held, bar), _from(inside, bar)
        if alike not in self._spelled:
            self._spelled[alike] = spell(inside, bar, last, self.held)
        glyphs = self._spelled[alike]
        if not (glyphs and glyphs[-1].tied_on):
            self.held = ()
        elif inside:
            last_beat = inside[-1].beat
            self.held = tuple(one for one in inside if one.beat == last_beat and not one.grace)
        return glyphs


def _from(notes: Sequence[Note], bar: Bar) -> Hashable:
    """Return all that notes say, with their places counted from the bar."""
    start = bar.start
    return tuple(
        (one.beat - start, one.voice, one.limb, one.level, one.zone, one.value, one.grace, one.buzz)
        for one in notes
    )


def _attributes(measure: ET.Element, meter: Meter, now: Meter | None, *, first: bool) -> None:
    """Write the meter in a pattern's first bar and where it changes.

    At the very start, where none is in force, also what holds for the whole part.
    """
    if meter == now and not first:
        return
    attributes = add_element(measure, "attributes")
    if now is None:
        add_element(attributes, "divisions", DIVISIONS)
    time = add_element(attributes, "time")
    add_element(time, "beats", "+".join(map(str, meter.groups)) or meter.beats)
    add_element(time, "beat-type", meter.unit)
    if now is None:
        add_element(add_element(attributes, "clef"), "sign", "percussion")


def _runs(pattern: Pattern) -> Iterator[tuple[Section | None, bool, int, int]]:
    """Yield stretches of bars to write: their section, whether it is a repeat, first and end."""
    at = 0
    for section in sorted(pattern.sections, key=lambda section: section.first_bar):
        if section.first_bar > at:
            yield None, False, at, section.first_bar
        repeated = is_repeat(pattern, section)
        count = section.bar_count // section.times if repeated else section.bar_count
        yield section, repeated, section.first_bar, section.first_bar + count
        at = section.first_bar + section.bar_count
    if at < len(pattern.bars):
        yield None, False, at, len(pattern.bars)


def is_repeat(pattern: Pattern, section: Section) -> bool:
    """Return whether a section is the same music over and over, as it says."""
    size, rest = divmod(section.bar_count, section.times)
    if section.times == 1 or rest:
        return False
    bars = pattern.bars[section.first_bar : section.first_bar + section.bar_count]
    if feel_inside(pattern, bars[0].start, bars[-1].end):
        return False
    turns = []
    for turn in range(section.times):
        inside = bars[turn * size : (turn + 1) * size]
        start, end = inside[0].start, inside[-1].end
        low, high = (bisect_left(pattern.notes, edge, key=beat_of) for edge in (start, end))
        notes = [replace(note, beat=note.beat - start) for note in pattern.notes[low:high]]
        turns.append(([bar.meter for bar in inside], notes))
    return all(turn == turns[0] for turn in turns)


def _section_mark(measure: ET.Element, section: Section, repeated: bool) -> None:
    """Write a section's start: repeat sign, title and times, and its count out of sight."""
    if repeated:
        add_element(_barline(measure, "left", "heavy-light"), "repeat", direction="forward")
    direction = add_element(measure, "direction", placement="above")
    times = times_words(section.times) if repeated else ""
    texts = [section.title, f", {times}" if section.title and times else times]
    shown = [text for text in texts if text]
    if shown:
        words = add_element(direction, "direction-type")
        for text in shown:
            add_element(words, "words", text, font_style="italic")
    hidden = add_element(direction, "direction-type")
    add_element(hidden, "other-direction", f"{SECTION} {section.times}", print_object="no")


def _repeat_end(measure: ET.Element, times: int) -> None:
    right = _barline(measure, "right", "light-heavy")
    add_element(right, "repeat", direction="backward", times=str(times))


def _barline(measure: ET.Element, location: str, style: str) -> ET.Element:
    line = add_element(measure, "barline", location=location)
    add_element(line, "bar-style", style)
    return line
