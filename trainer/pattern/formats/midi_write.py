"""A pattern written as a Standard MIDI File.

The file carries title, tempo, meters, and every stroke: its beat exactly, its drum and zone as a
General MIDI note, its level as a velocity; a choke is pressure on its cymbal's note. One track for
each limb, named after it, carries the sticking, with grace strokes and strokes of assumed hands on
tracks beside it; the length of a note is its note value; a grace stroke sounds at its distance
before its main stroke and lasts until it.
Sections are markers.
Swing, tempo changes and dynamics sound: strokes are where swing puts them, tempo events follow each
change (a gradual one in steps of half a quarter), velocities follow the marks. A text event says
them exactly, with groups of beats and buzz strokes, which other programs play as plain ones.
It cannot carry `about`, tags and the level of difficulty, nor a zone General MIDI has no note for
(the edge of a hi-hat becomes its ordinary place). A voice without any note is refused.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from itertools import product
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.kit.model import GENERAL_MIDI, Kit
from trainer.kit.voices import VOICES
from trainer.pattern.as_played import PlayedPlaces, grace_lead_s, loudness
from trainer.pattern.formats.midi_file import PERCUSSION, velocity_of
from trainer.pattern.json_data import feel_to_dict
from trainer.pattern.model import HAND_ASSUMED, NOTE_VALUES, Limb

if TYPE_CHECKING:
    from collections.abc import Iterator

    from mido import MetaMessage, MidiTrack

    from trainer.pattern.model import Meter, Note, Pattern

OWN = "midi-kit-trainer: tracks are limbs, note lengths are note values"
"""The text event by which a reader takes limbs, lengths and levels at their word."""

Event = tuple[int, int, "MetaMessage | tuple[str, int, int]"]
"""Tick, order within the tick (note-offs before note-ons), and a meta message or a stroke's kind,
note and velocity.
"""

CHOKED = 127
"""The pressure of a choke, as kits send it (common practice)."""

MOST_TICKS = 2**15 - 1
"""The most ticks of a quarter note that a file can have (SMF 1.1)."""

USUAL, FINEST = 480, 3360
"""Ticks a quarter: the usual ones, and those that hold septuplets exactly too."""

FEEL = "midi-kit-trainer: feel "
"""What a text event begins with that says how the pattern is played beyond its notes, as JSON."""

TEMPO_STEP = Fraction(1, 2)
"""How far apart the steps of a gradual change of tempo are, in quarter notes."""

LEAD_IN = "lead-in"
"""The marker of an empty first bar, written where a grace stroke comes before the first beat."""

NO_LIMB, GRACE = "kit", "grace"
_ORDER = (*Limb, None)


def to_midi(pattern: Pattern, tempo: float | None = None, kit: Kit = GENERAL_MIDI) -> bytes:
    """Return the bytes of the file; `tempo` is in the pattern's own unit, its own where None.

    Raises BadInput for a voice the kit has no note for.
    """
    return _Writer(pattern, tempo or pattern.tempo, kit).file()


class _Writer:
    """One file in the making; ticks are counted from the file's start."""

    def __init__(self, pattern: Pattern, tempo: float, kit: Kit) -> None:
        self.pattern, self.kit = pattern, kit
        self.numbers: dict[tuple[str, str], int] = {}
        self.tempo = tempo
        self.bpm = tempo * float(pattern.tempo_unit)
        self.places = PlayedPlaces(pattern)
        self.swung = PlayedPlaces(replace(pattern, tempo_changes=()))
        self.ticks = _resolution(pattern)
        first = pattern.notes[0] if pattern.notes else None
        leads = first is not None and first.beat == 0 and first.grace > 0
        self.lead = pattern.meter.length if leads else Fraction(0)

    def file(self) -> bytes:
        from mido import MidiFile

        made = MidiFile(type=1, ticks_per_beat=self.ticks, charset="utf-8")
        made.tracks.append(self._track(self._conductor()))
        for limb in _ORDER:
            for kind in product((False, True), repeat=2):
                strokes = [
                    note
                    for note in self.pattern.notes
                    if note.limb is limb and (note.hand_assumed, note.grace > 0) == kind
                ]
                if strokes:
                    made.tracks.append(self._track(self._strokes(limb, strokes)))
        out = BytesIO()
        made.save(file=out)
        return out.getvalue()

    def _at(self, beat: Fraction) -> int:
        return round((beat + self.lead) * self.ticks)

    def _conductor(self) -> Iterator[Event]:
        """Yield title, tempo, meters and sections: everything that is not a stroke."""
        from mido import MetaMessage

        pattern = self.pattern
        yield 0, 0, MetaMessage("track_name", name=pattern.title)
        yield 0, 0, MetaMessage("text", text=OWN)
        feel = _feel(pattern)
        if pattern.tempo_changes:
            feel["tempo"] = self.tempo
        if feel:
            yield 0, 0, MetaMessage("text", text=FEEL + json.dumps(feel, separators=(",", ":")))
        yield from self._tempos()
        clicks = min(round(24 * pattern.tempo_unit), 255)
        meter = None
        for bar in pattern.bars:
            if bar.meter != meter:
                meter = bar.meter
                at = self._at(bar.start) if bar.start else 0
                yield at, 0, _time_signature(meter, clicks)
        if self.lead:
            yield 0, 0, MetaMessage("marker", text=LEAD_IN)
        for section in pattern.sections:
            times = f" x{section.times}" if section.times > 1 else ""
            beat = pattern.bars[section.first_bar].start
            yield self._at(beat), 1, MetaMessage("marker", text=section.title + times)

    def _tempos(self) -> Iterator[Event]:
        """Yield the tempo of the start and of every change."""
        from mido import MetaMessage

        rows = [(0, self.bpm)]
        for change in self.pattern.tempo_changes:
            end, at = change.end or change.start, change.start
            while at < end:
                middle = at + min(TEMPO_STEP, end - at) / 2
                rows.append((self._at(at), self.bpm / self.places.pace(middle)))
                at += TEMPO_STEP
            rows.append((self._at(end), self.bpm / self.places.pace(end)))
        for tick, bpm in dict(rows).items():
            tempo = min(max(round(60_000_000 / bpm), 1), 0xFFFFFF)
            yield tick, 0, MetaMessage("set_tempo", tempo=tempo)

    def _strokes(self, limb: Limb | None, strokes: list[Note]) -> Iterator[Event]:
        """Yield the track of one limb: each stroke from its beat for as long as its value."""
        from mido import MetaMessage

        words = [limb.value if limb else NO_LIMB]
        words += [HAND_ASSUMED] * strokes[0].hand_assumed + [GRACE] * (strokes[0].grace > 0)
        yield 0, 0, MetaMessage("track_name", name=" ".join(words))
        for note in strokes:
            on, off = self._span(note)
            number = self._number(note.voice, note.zone)
            if note.choke:
                yield on, 2, ("polytouch", number, CHOKED)
                yield off, 1, ("polytouch", number, 0)
                continue
            velocity = velocity_of(note.level, loudness(self.pattern, note.beat))
            yield on, 2, ("note_on", number, velocity)
            yield off, 1, ("note_off", number, 64)

    def _span(self, note: Note) -> tuple[int, int]:
        """Return the first and the last tick of a stroke."""
        at = self._struck(note)
        if not note.grace:
            return at, at + max(round(NOTE_VALUES[note.value].length * self.ticks), 1)
        quarter_s = 60 / self.bpm
        lead = round(grace_lead_s(note, quarter_s) / quarter_s * self.ticks)
        return at - max(lead, note.grace), at

    def _struck(self, note: Note) -> int:
        """Return the tick a stroke is at, or the main stroke of a grace stroke, swing and all."""
        if not self.pattern.swing or NOTE_VALUES[note.value].actual > 1:
            return self._at(note.beat)
        return round((self.swung.at(note.beat) + float(self.lead)) * self.ticks)

    def _number(self, voice: str, zone: str) -> int:
        if (voice, zone) not in self.numbers:
            number = self.kit.note(voice, zone)
            if number is None:
                raise BadInput(
                    f"the {VOICES[voice].title} has no MIDI note",
                    where=self.pattern.name,
                    fix="move its strokes to another voice before the export",
                )
            self.numbers[voice, zone] = number
        return self.numbers[voice, zone]

    def _track(self, events: Iterator[Event]) -> MidiTrack:
        """Return events as a track: sorted, times as differences, ended at the pattern's end."""
        from mido import Message, MetaMessage, MidiTrack

        track, now = MidiTrack(), 0
        for tick, _, event in sorted(events, key=lambda event: event[:2]):
            gap = tick - now
            if isinstance(event, tuple):
                kind, note, velocity = event
                # The values come from our own tables; mido's checks cost more than the writing.
                amount = "value" if kind == "polytouch" else "velocity"
                row = {"channel": PERCUSSION, "note": note, amount: velocity, "time": gap}
                track.append(Message(kind, skip_checks=True, **row))
            else:
                track.append(event.copy(time=gap))
            now = tick
        end = max(self._at(self.pattern.length), now)
        track.append(MetaMessage("end_of_track", time=end - now))
        return track


def _time_signature(meter: Meter, clicks: int) -> MetaMessage:
    from mido import MetaMessage

    return MetaMessage(
        "time_signature",
        numerator=min(meter.beats, 255),
        denominator=meter.unit,
        clocks_per_click=clicks,
    )


def _feel(pattern: Pattern) -> dict[str, Any]:
    """Return what a MIDI file has no event for: the feel, groups of beats, buzz strokes."""
    groups = {str(at): bar.meter.groups for at, bar in enumerate(pattern.bars) if bar.meter.groups}
    buzzes = [at for at, note in enumerate(pattern.notes) if note.buzz]
    plain = {value.length: name for name, value in reversed(NOTE_VALUES.items())}
    values: dict[str, list[int]] = {}
    for at, note in enumerate(pattern.notes):
        if plain[NOTE_VALUES[note.value].length] != note.value:
            values.setdefault(note.value, []).append(at)
    more = {"groups": groups, "buzzes": buzzes, "values": values}
    return feel_to_dict(pattern) | {key: rows for key, rows in more.items() if rows}


def _resolution(pattern: Pattern) -> int:
    """Return the ticks of a quarter note: enough for every beat, value and bar line exactly."""
    least = FINEST if pattern.swing else USUAL
    values = {note.value for note in pattern.notes}
    parts = {NOTE_VALUES[value].length.denominator for value in values}
    parts |= {note.beat.denominator for note in pattern.notes}
    parts |= {bar.end.denominator for bar in pattern.bars}
    for ticks in (least, FINEST):
        if all(ticks % one == 0 for one in parts):
            return ticks
    needed = math.lcm(*parts)
    return needed * -(-least // needed) if needed <= MOST_TICKS // 2 else FINEST
