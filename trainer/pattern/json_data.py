"""A pattern as plain dicts and lists, exactly, and back: what session files carry.

Fractions are written as text (`"7/4"`). Reading checks every value, since a session file may come
from a stranger; notes are put in the order the model promises.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

from trainer.errors import BadInput
from trainer.fields import Fields
from trainer.kit.voices import VOICES
from trainer.pattern.model import (
    MAX_BARS,
    MAX_STROKES,
    NOTE_VALUES,
    Bar,
    Level,
    Limb,
    Meter,
    Note,
    Pattern,
    Section,
    note_order,
)

_METER = re.compile(r"(\d{1,3})/(1|2|4|8|16|32|64)", re.ASCII)


def pattern_to_dict(pattern: Pattern) -> dict[str, Any]:
    """Return the whole pattern as values that JSON can hold."""
    return {
        "name": pattern.name,
        "title": pattern.title,
        "about": pattern.about,
        "tags": list(pattern.tags),
        "level": pattern.level,
        "tempo": pattern.tempo,
        "tempo_unit": str(pattern.tempo_unit),
        "assumed": list(pattern.assumed),
        "bars": [str(bar.meter) for bar in pattern.bars],
        "sections": [
            {"title": s.title, "first_bar": s.first_bar, "bar_count": s.bar_count, "times": s.times}
            for s in pattern.sections
        ],
        "notes": [note_to_dict(note) for note in pattern.notes],
    }


def note_to_dict(note: Note) -> dict[str, Any]:
    """Return one note; values that say nothing special are left out."""
    row: dict[str, Any] = {"beat": str(note.beat), "voice": note.voice, "value": note.value}
    if note.limb is not None:
        row["limb"] = note.limb.value
    if note.level is not Level.NORMAL:
        row["level"] = note.level.value
    if note.zone:
        row["zone"] = note.zone
    if note.grace:
        row["grace"] = note.grace
    return row


def pattern_from_dict(value: object) -> Pattern:
    """Return the pattern a dict describes; raises BadInput naming the key that is wrong."""
    fields = Fields(value, "the pattern")
    bars = _bars(fields.rows("bars", MAX_BARS))
    notes = [_note(row, bars[-1].end) for row in fields.rows("notes", MAX_STROKES)]
    unit = fields.fraction("tempo_unit", Fraction(1))
    if not Fraction(1, 16) <= unit <= 16:
        raise BadInput('"tempo_unit" of the pattern must be a note value in quarter notes')
    return Pattern(
        name=fields.text("name"),
        title=fields.text("title"),
        bars=bars,
        notes=tuple(sorted(notes, key=note_order)),
        sections=tuple(_section(row, len(bars)) for row in fields.rows("sections", MAX_BARS)),
        about=fields.text("about", "", longest=100_000),
        tags=fields.texts("tags"),
        level=fields.whole("level", 0, 100, 1),
        tempo=fields.number("tempo", 1, 1000, 60.0),
        tempo_unit=unit,
        assumed=fields.texts("assumed"),
    )


def _bars(rows: list[object]) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    for row in rows:
        meter = _meter(row)
        bars.append(Bar(bars[-1].end if bars else Fraction(0), meter))
    if not bars:
        raise BadInput("the pattern has no bars")
    return tuple(bars)


def _meter(row: object) -> Meter:
    found = _METER.fullmatch(row) if isinstance(row, str) else None
    if not found or not 1 <= int(found[1]) <= 256:
        raise BadInput("a meter of the pattern cannot be read", mend='write it like "7/8"')
    return Meter(int(found[1]), int(found[2]))


def _section(row: object, bar_count: int) -> Section:
    fields = Fields(row, "a section")
    first = fields.whole("first_bar", 0, bar_count - 1)
    return Section(
        title=fields.text("title", ""),
        first_bar=first,
        bar_count=fields.whole("bar_count", 1, bar_count - first),
        times=fields.whole("times", 1, MAX_BARS, 1),
    )


def _note(row: object, end: Fraction) -> Note:
    fields = Fields(row, "a note")
    beat = fields.fraction("beat")
    if beat >= end:
        raise BadInput(f"a note on beat {beat} is after the pattern's end")
    limb = fields.choice("limb", tuple(Limb)) if "limb" in fields else None
    return Note(
        beat=beat,
        voice=fields.choice("voice", VOICES),
        limb=Limb(limb) if limb else None,
        level=Level(fields.choice("level", tuple(Level), Level.NORMAL.value)),
        zone=fields.text("zone", "", longest=40),
        value=fields.choice("value", NOTE_VALUES, "16"),
        grace=fields.whole("grace", 0, 8, 0),
    )
