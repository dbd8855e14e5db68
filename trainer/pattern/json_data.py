"""A pattern as plain dicts and lists, exactly, and back: what session files carry.

Fractions are written as text (`"7/4"`). Reading checks every value, since a session file may come
from a stranger; notes are put in the order the model promises, and changes in a pattern's name are
spelled as they are now.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Any

from msgspec import Meta, Struct

from trainer.errors import BadInput
from trainer.kit.model import Voice, Zone
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
from trainer.typed_json import Text, converted

UNITS = "1|2|4|8|16|32|64"
MOST_BEATS = 256

Texts = Annotated[tuple[Text, ...], Meta(max_length=1000)]
MeterText = Annotated[
    str, Meta(pattern=rf"\A[0-9]{{1,3}}/({UNITS})\Z", description='a meter written like "7/8"')
]
ValueName = Annotated[
    str,
    Meta(
        pattern=rf"\A(?:{'|'.join(map(re.escape, NOTE_VALUES))})\Z",
        description="a note value that is known here",
    ),
]
BarCount = Annotated[int, Meta(ge=1, le=MAX_BARS)]


class SectionRow(Struct):
    """A section of a pattern as a session file has it."""

    first_bar: Annotated[int, Meta(ge=0, lt=MAX_BARS)]
    bar_count: BarCount
    title: Text = ""
    times: BarCount = 1


class NoteRow(Struct):
    """A note of a pattern as a session file has it."""

    beat: Fraction
    voice: Voice
    limb: Limb | None = None
    level: Level = Level.NORMAL
    zone: Zone = ""
    value: ValueName = "16"
    grace: Annotated[int, Meta(ge=0, le=8)] = 0

    def note(self) -> Note:
        """Return the note."""
        return Note(self.beat, self.voice, self.limb, self.level, self.zone, self.value, self.grace)


class PatternRow(Struct):
    """A pattern as a session file has it."""

    name: Text
    title: Text
    bars: Annotated[list[MeterText], Meta(min_length=1, max_length=MAX_BARS)]
    notes: Annotated[list[NoteRow], Meta(max_length=MAX_STROKES)] = []
    sections: Annotated[list[SectionRow], Meta(max_length=MAX_BARS)] = []
    about: Annotated[str, Meta(max_length=100_000)] = ""
    tags: Texts = ()
    level: Annotated[int, Meta(ge=0, le=100)] = 1
    tempo: Annotated[float, Meta(ge=1, le=1000)] = 60.0
    tempo_unit: Fraction = Fraction(1)
    assumed: Texts = ()

    def pattern(self) -> Pattern:
        """Return the pattern, its notes in order; raises BadInput naming the key that is wrong."""
        bars = _bars(self.bars)
        if not Fraction(1, 16) <= self.tempo_unit <= 16:
            raise BadInput("must be a note value in quarter notes", where="tempo_unit")
        notes = sorted((row.note() for row in self.notes), key=note_order)
        if notes and notes[-1].beat >= bars[-1].end:
            raise BadInput(f"beat {notes[-1].beat} is after the pattern's end", where="notes")
        return Pattern(
            name=name_as_spelled_now(self.name),
            title=self.title,
            bars=bars,
            notes=tuple(notes),
            sections=tuple(_section(row, len(bars)) for row in self.sections),
            about=self.about,
            tags=self.tags,
            level=self.level,
            tempo=self.tempo,
            tempo_unit=self.tempo_unit,
            assumed=self.assumed,
        )


def _bars(meters: list[str]) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    for text in meters:
        beats, unit = map(int, text.split("/"))
        if not 1 <= beats <= MOST_BEATS:
            raise BadInput(f"a bar has from 1 to {MOST_BEATS} beats", where="bars")
        bars.append(Bar(bars[-1].end if bars else Fraction(0), Meter(beats, unit)))
    return tuple(bars)


def _section(row: SectionRow, bar_count: int) -> Section:
    if row.first_bar + row.bar_count > bar_count:
        raise BadInput("bar_count goes beyond the last bar", where="sections")
    return Section(row.title, row.first_bar, row.bar_count, row.times)


def pattern_from_dict(value: object) -> Pattern:
    """Return the pattern a dict describes; raises BadInput naming the key that is wrong."""
    return converted(value, PatternRow).pattern()


def check_playable(pattern: Pattern) -> None:
    """Raise BadInput for a pattern that a session's file cannot hold, so that none can be played.

    Files of other programs may write more grace strokes, longer titles or finer units.
    """
    pattern_from_dict(pattern_to_dict(pattern))


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
    """Return one note; what says nothing special is left out."""
    row = {key: value for key, value in full_note(note).items() if value}
    if note.level is Level.NORMAL:
        del row["level"]
    return row


def full_note(note: Note) -> dict[str, Any]:
    """Return all that a note says, also where that is nothing special."""
    return {
        "beat": str(note.beat),
        "voice": note.voice,
        "limb": note.limb.value if note.limb else None,
        "level": note.level.value,
        "zone": note.zone,
        "value": note.value,
        "grace": note.grace,
    }


def name_as_spelled_now(name: str) -> str:
    """Return a saved name with its changes as they are spelled now; most have none."""
    if "=" not in name:
        return name
    from trainer.pattern.language.changes import present_name

    return present_name(name)
