"""A pattern as plain dicts and lists, exactly, and back: what session files carry.

Fractions are written as text (`"7/4"`). Reading checks every value, since a session file may come
from a stranger; notes are put in the order the model promises, and changes in a pattern's name are
spelled as they are now.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Annotated, Any, Literal, TypeVar

from msgspec import Meta, Struct

from trainer.errors import BadInput
from trainer.kit.model import Voice, Zone
from trainer.pattern.model import (
    HANDS,
    MAX_BARS,
    MAX_STROKES,
    MOST_SWING,
    NOTE_VALUES,
    STRAIGHT,
    Bar,
    Dynamic,
    Level,
    Limb,
    Meter,
    Note,
    Pattern,
    Section,
    Swing,
    TempoChange,
    note_order,
)
from trainer.typed_json import Text, converted, reader

UNITS = "1|2|4|8|16|32|64"
MOST_BEATS = 256

Texts = Annotated[tuple[Text, ...], Meta(max_length=1000)]
MeterText = Annotated[
    str,
    Meta(
        pattern=rf"\A[0-9]{{1,3}}/({UNITS})( [0-9+]{{1,200}})?\Z",
        description='a meter written like "7/8" or "7/8 3+2+2"',
    ),
]
ValueName = Annotated[
    str,
    Meta(
        pattern=rf"\A(?:{'|'.join(map(re.escape, NOTE_VALUES))})\Z",
        description="a note value that is known here",
    ),
]
BarCount = Annotated[int, Meta(ge=1, le=MAX_BARS)]
Bpm = Annotated[float, Meta(ge=1, le=1000)]
Mark = Literal["ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"]


class SectionRow(Struct):
    """A section of a pattern as a session file has it."""

    first_bar: Annotated[int, Meta(ge=0, lt=MAX_BARS)]
    bar_count: BarCount
    title: Text = ""
    times: BarCount = 1


HANDS_ALTERNATED = "sticking: hands strictly alternate"
"""What sessions said, before notes did, of a file of another program without a sticking."""


class NoteRow(Struct):
    """A note of a pattern as a session file has it."""

    beat: Fraction
    voice: Voice
    limb: Limb | None = None
    level: Level = Level.NORMAL
    zone: Zone = ""
    value: ValueName = "16"
    grace: Annotated[int, Meta(ge=0, le=8)] = 0
    buzz: bool = False
    hand_assumed: bool = False

    def note(self) -> Note:
        """Return the note."""
        place = (self.beat, self.voice, self.limb, self.level, self.zone, self.value)
        return Note(*place, grace=self.grace, buzz=self.buzz, hand_assumed=self.hand_assumed)


class SwingRow(Struct):
    """A stretch of swing as a session file has it."""

    start: Fraction
    end: Fraction
    value: Literal["2", "4", "8", "16", "32"]
    share: Fraction

    def swing(self) -> Swing:
        """Return the swing; raises BadInput for a share that is none."""
        if not STRAIGHT <= self.share <= MOST_SWING:
            raise BadInput("must be from 1/2 to 5/6", where="share")
        return Swing(self.start, self.end, self.value, self.share)


class TempoChangeRow(Struct):
    """A change of tempo as a session file has it."""

    start: Fraction
    tempo: Bpm
    end: Fraction | None = None
    to: Bpm | None = None

    def change(self) -> TempoChange:
        """Return the change; raises BadInput where a gradual one reaches no tempo."""
        if (self.end is None) is not (self.to is None):
            raise BadInput("needs both end and to", where="tempo_changes")
        return TempoChange(self.start, self.tempo, self.end, self.to or 0.0)


class DynamicRow(Struct):
    """A mark of loudness as a session file has it."""

    start: Fraction
    mark: Mark
    end: Fraction | None = None
    to: Mark | None = None

    def dynamic(self) -> Dynamic:
        """Return the mark; raises BadInput where a crescendo or diminuendo reaches none."""
        if (self.end is None) is not (self.to is None):
            raise BadInput("needs both end and to", where="dynamics")
        return Dynamic(self.start, self.mark, self.end, self.to or "")


class FeelRow(Struct, kw_only=True):
    """How a pattern is played beyond its notes, as a session file has it."""

    swing: Annotated[list[SwingRow], Meta(max_length=MAX_BARS)] = []
    tempo_changes: Annotated[list[TempoChangeRow], Meta(max_length=MAX_BARS)] = []
    dynamics: Annotated[list[DynamicRow], Meta(max_length=MAX_BARS)] = []

    def over(self, pattern: Pattern) -> Pattern:
        """Return a pattern played this way; raises BadInput for what does not fit its bars."""
        bars = pattern.bars
        return replace(
            pattern,
            swing=_stretches("swing", [row.swing() for row in self.swing], bars),
            tempo_changes=_stretches(
                "tempo_changes", [row.change() for row in self.tempo_changes], bars
            ),
            dynamics=_stretches("dynamics", [row.dynamic() for row in self.dynamics], bars),
        )


read_feel = reader(FeelRow)
"""Reads the text of a `FeelRow`; raises BadInput."""


class PatternRow(FeelRow, kw_only=True):
    """A pattern as a session file has it."""

    name: Text
    title: Text
    bars: Annotated[list[MeterText], Meta(min_length=1, max_length=MAX_BARS)]
    notes: Annotated[list[NoteRow], Meta(max_length=MAX_STROKES)] = []
    sections: Annotated[list[SectionRow], Meta(max_length=MAX_BARS)] = []
    about: Annotated[str, Meta(max_length=100_000)] = ""
    tags: Texts = ()
    level: Annotated[int, Meta(ge=0, le=100)] | None = None
    tempo: Bpm = 60.0
    tempo_unit: Fraction = Fraction(1)
    assumed: Texts = ()

    def pattern(self) -> Pattern:
        """Return the pattern, its notes in order; raises BadInput naming the key that is wrong."""
        bars = _bars(self.bars)
        if not Fraction(1, 16) <= self.tempo_unit <= 16:
            raise BadInput("must be a note value in quarter notes", where="tempo_unit")
        notes = sorted((row.note() for row in self.notes), key=note_order)
        if HANDS_ALTERNATED in self.assumed:
            notes = [replace(one, hand_assumed=one.limb in HANDS) for one in notes]
        if notes and notes[-1].beat >= bars[-1].end:
            raise BadInput(f"beat {notes[-1].beat} is after the pattern's end", where="notes")
        plain = Pattern(
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
        return self.over(plain)


def _bars(meters: list[str]) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    for text in meters:
        meter, _, grouped = text.partition(" ")
        beats, unit = map(int, meter.split("/"))
        groups = tuple(int(size or 0) for size in grouped.split("+")) if grouped else ()
        if not 1 <= beats <= MOST_BEATS:
            raise BadInput(f"a bar has from 1 to {MOST_BEATS} beats", where="bars")
        if groups and (sum(groups) != beats or 0 in groups):
            raise BadInput(f"the groups do not add up to {beats} beats", where="bars")
        bars.append(Bar(bars[-1].end if bars else Fraction(0), Meter(beats, unit, groups)))
    return tuple(bars)


Stretch = TypeVar("Stretch", Swing, TempoChange, Dynamic)


def _stretches(key: str, found: list[Stretch], bars: tuple[Bar, ...]) -> tuple[Stretch, ...]:
    """Return stretches in order; raises BadInput for one that ends before it starts or too late."""
    found.sort(key=lambda one: one.start)
    for one in found:
        if not one.start < (bars[-1].end if one.end is None else one.end) <= bars[-1].end:
            raise BadInput("start and end must be in order and inside the pattern", where=key)
    for one, two in pairwise(found):
        if two.start < (one.start if one.end is None else one.end):
            raise BadInput(f"two of them hold at beat {two.start}", where=key)
    return tuple(found)


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
        "bars": [bar.meter.written for bar in pattern.bars],
        "sections": [
            {"title": s.title, "first_bar": s.first_bar, "bar_count": s.bar_count, "times": s.times}
            for s in pattern.sections
        ],
        "notes": [note_to_dict(note) for note in pattern.notes],
        **feel_to_dict(pattern),
    }


def feel_to_dict(pattern: Pattern) -> dict[str, Any]:
    """Return swing, tempo changes and dynamics; what is not written is left out."""
    found = {
        "swing": [
            {
                "start": str(one.start),
                "end": str(one.end),
                "value": one.value,
                "share": str(one.share),
            }
            for one in pattern.swing
        ],
        "tempo_changes": [
            {"start": str(one.start), "tempo": one.tempo}
            | ({} if one.end is None else {"end": str(one.end), "to": one.to})
            for one in pattern.tempo_changes
        ],
        "dynamics": [
            {"start": str(one.start), "mark": one.mark}
            | ({} if one.end is None else {"end": str(one.end), "to": one.to})
            for one in pattern.dynamics
        ],
    }
    return {key: rows for key, rows in found.items() if rows}


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
        "buzz": note.buzz,
        "hand_assumed": note.hand_assumed,
    }


def name_as_spelled_now(name: str) -> str:
    """Return a saved name with its changes as they are spelled now; most have none."""
    if "=" not in name:
        return name
    from trainer.pattern.language.changes import present_name

    return present_name(name)
