"""A Standard MIDI File read as a pattern.

Percussion is channel 10; a file with notes on one other channel only is read from that channel and
the pattern says so. Bars come from the time signatures (4/4 without any), drums and zones through
the kit's note map, levels from velocities, note values from the shortest sensible grid
(`trainer.pattern.quantiser`). A stroke a little before another and off the grid is its grace
stroke. Feet play the voices of the feet; the hands' sticking is taken from tracks named RH and LH,
else inferred, and `assumed` says so. What `trainer.pattern.formats.midi_write` wrote comes back as
it was.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from msgspec import Meta, field

from trainer.errors import BadInput, named
from trainer.kit.model import GENERAL_MIDI, Kit
from trainer.kit.voices import CHOKE, CHOKED, full_zone
from trainer.pattern.as_played import PlayedPlaces, loudness
from trainer.pattern.formats.assumptions import (
    LONE_KICK,
    NAME_PADS,
    NOTES_LEFT_OUT,
    MidiStroke,
    bar_line_slack,
    infer_notes,
    lay_bars,
    lone_kick,
    playable_changes,
    playable_tempo,
)
from trainer.pattern.formats.midi_file import (
    DEFAULT_TEMPO_US,
    MARKER,
    NAME,
    PERCUSSION,
    TEXT,
    VELOCITY,
    MidiFile,
    NoteOn,
    bpm_of,
    level_at,
    read_midi,
)
from trainer.pattern.formats.midi_write import FEEL, GRACE, LEAD_IN, OWN
from trainer.pattern.json_data import FeelRow, ValueName
from trainer.pattern.language.rows import HANDS_ASSUMED
from trainer.pattern.model import (
    HAND_ASSUMED,
    MAX_BARS,
    MAX_STROKES,
    MAX_TEMPO,
    MIN_TEMPO,
    NOTE_VALUES,
    Bar,
    Level,
    Limb,
    Meter,
    Note,
    Pattern,
    Section,
    TempoChange,
    note_order,
)
from trainer.typed_json import Count, reader

if TYPE_CHECKING:
    from collections.abc import Sequence

_TIMES = re.compile(r"(.*) x(\d{1,4})", re.ASCII | re.DOTALL)


def read(source: Path | str | bytes, name: str = "", kit: Kit = GENERAL_MIDI) -> Pattern:
    """Read a MIDI file, or the bytes of one, as a pattern called `name` (else as the file).

    Raises BadInput for a file that breaks the format, has no percussion, or has more bars than a
    pattern can hold.
    """
    where = name or ("the MIDI file" if isinstance(source, bytes) else Path(source).name)
    file = read_midi(source, where)
    with named(where):
        return _Reader(file, name or (Path(where).stem), kit).pattern()


class _Beats(dict[int, Fraction]):
    """Quarter notes by tick, each worked out once."""

    def __init__(self, ticks_per_quarter: Fraction) -> None:
        super().__init__()
        self.quarter = ticks_per_quarter

    def __missing__(self, tick: int) -> Fraction:
        beat = Fraction(tick) / self.quarter
        self[tick] = beat
        return beat


class _Reader:
    """One file on its way to a pattern; `assumed` collects what was inferred."""

    def __init__(self, file: MidiFile, name: str, kit: Kit) -> None:
        self.file, self.name, self.kit = file, name, kit
        self.assumed: list[str] = []
        self.beats = _Beats(file.ticks_per_quarter)
        self.own = any(text.kind == TEXT and text.text == OWN for text in file.texts)
        self.tempo_us = file.tempos[0][1] if file.tempos else DEFAULT_TEMPO_US
        self.tracks = {text.track: text.text for text in file.texts if text.kind == NAME}
        self.feel = self._said_feel() if self.own else MidiFeelRow()
        dynamics = tuple(row.dynamic() for row in self.feel.dynamics)
        self.marks = Pattern(name, name, (), (), dynamics=dynamics)

    def pattern(self) -> Pattern:
        strokes = self._strokes()
        notes = self._as_written(strokes) if self.own else None
        bars = self._bars(strokes, notes)
        if notes is None:
            notes, reported = infer_notes(self.file, strokes, bars)
            self.assumed += reported
        notes, bars, sections = self._without_lead_in(notes, bars)
        tempo, unit = self._tempo(bars[0].meter)
        changes: tuple[TempoChange, ...] = ()
        if not self.own:
            tempos = [(self._beat(tick), bpm_of(us) / float(unit)) for tick, us in self.file.tempos]
            changes, reported = playable_changes(tempos, bars[-1].end, tempo)
            self.assumed += reported
        pattern = Pattern(
            name=self.name,
            title=_one_line(self.tracks.get(0, "")) or self.name,
            bars=bars,
            notes=tuple(sorted(notes, key=note_order)),
            sections=sections,
            tempo=tempo,
            tempo_unit=unit,
            assumed=tuple(self.assumed),
            tempo_changes=changes,
        )
        return _felt(pattern, self.feel) if self.own else pattern

    def _said_feel(self) -> MidiFeelRow:
        """Return what the text event of a file of our own says of its feel."""
        texts = (text.text for text in self.file.texts if text.kind == TEXT)
        said = next((text.removeprefix(FEEL) for text in texts if text.startswith(FEEL)), "{}")
        return _read_feel(said.encode())

    @property
    def _lead(self) -> Fraction:
        """How long the empty bar is that our own files may begin with."""
        led = any(text.kind == MARKER and text.text == LEAD_IN for text in self.file.texts)
        meter = self.file.meters[0] if self.own and led and self.file.meters else None
        return Fraction(4 * meter[1], meter[2]) if meter else Fraction(0)

    def _strokes(self) -> list[MidiStroke]:
        """Return the percussion of the file with its drums; strokes without a drum are reported."""
        found, unknown = [], Counter[int]()
        limbs = {track: _named_limb(name) for track, name in self.tracks.items()}
        assumed = {track for track, name in self.tracks.items() if HAND_ASSUMED in name.split()[1:]}
        for on, choke in self._percussion_and_chokes():
            pad = self.kit.pad(on.note)
            if choke and (pad is None or pad.voice not in CHOKED):
                continue
            if pad is None:
                unknown[on.note] += 1
            else:
                zone = "" if pad.zone == full_zone(pad.voice, "") else pad.zone
                zone = CHOKE if choke else zone
                limb, unsure = limbs.get(on.track), on.track in assumed
                found.append(MidiStroke(on, pad.voice, zone, limb, unsure))
        if not self.own and lone_kick(stroke.voice for stroke in found):
            self.assumed.append(LONE_KICK)
            for stroke in found:
                stroke.voice = "kick" if stroke.voice == "kick2" else stroke.voice
        if unknown:
            count = ", ".join(f"{times} of note {note}" for note, times in sorted(unknown.items()))
            if not found:
                raise BadInput(f"the kit has none of the file's notes: {count}", fix=NAME_PADS)
            self.assumed.append(f"{NOTES_LEFT_OUT}{count}")
        if not found:
            raise BadInput("the file has no percussion", fix="export the drum track")
        if len(found) > MAX_STROKES:
            raise BadInput(
                f"the file has {len(found):,} strokes, more than {MAX_STROKES:,}",
                fix="cut it into shorter files",
            )
        return found

    def _percussion_and_chokes(self) -> list[tuple[NoteOn, bool]]:
        """Return strokes, and pressure on cymbals as chokes of ordinary loudness, in time order."""
        drums = self._percussion()
        channels = {on.channel for on in drums}
        tracks = {on.track for on in drums} if self.file.format == 2 else None
        chokes = [
            replace(on, velocity=VELOCITY[Level.NORMAL])
            for on in self.file.chokes
            if on.channel in channels and (tracks is None or on.track in tracks)
        ]
        found = [*((on, False) for on in drums), *((on, True) for on in chokes)]
        return sorted(found, key=lambda one: one[0].tick) if chokes else found

    def _percussion(self) -> list[NoteOn]:
        notes = self.file.notes
        channels = {on.channel for on in notes}
        if PERCUSSION not in channels and len(channels) > 1:
            raise BadInput(
                "nothing is on the percussion channel 10, and several other channels have notes",
                fix="export the drum track alone",
            )
        if channels and PERCUSSION not in channels:
            channel = min(channels)
            self.assumed.append(f"percussion: read from channel {channel + 1}, as 10 is empty")
        else:
            channel = PERCUSSION
        drums = [on for on in notes if on.channel == channel]
        if self.file.format == 2 and drums:
            track = min(on.track for on in drums)
            self.assumed.append(f"pattern: track {track + 1} of a file of separate tracks")
            drums = [on for on in drums if on.track == track]
        return drums

    def _beat(self, tick: int) -> Fraction:
        return self.beats[tick]

    def _tempo(self, meter: Meter) -> tuple[float, Fraction]:
        """Return the tempo and the note it counts, in quarter notes."""
        clicks = self.file.meters[0][3] if self.file.meters else 24
        compound = meter.unit == 8 and meter.beats % 3 == 0 and clicks == 36
        unit = Fraction(clicks, 24) if clicks and (self.own or compound) else Fraction(1)
        bpm = bpm_of(self.tempo_us)
        tempo = round(bpm / float(unit), 5) if unit != 1 else bpm
        kept, unit, reported = playable_tempo((tempo, unit))
        self.assumed += reported
        if not self.file.tempos:
            self.assumed.append("tempo: 120 BPM, as the file has none")
        return kept, unit

    def _as_written(self, strokes: Sequence[MidiStroke]) -> list[Note] | None:
        """Return the notes at their word, or None where a length is no note value any more."""
        values = {value.length: name for name, value in reversed(NOTE_VALUES.items())}
        mains: dict[tuple[Fraction, str], str] = {}
        notes, graces = [], []
        lead = self._lead
        grace_tracks = {n for n, name in self.tracks.items() if name.endswith(f" {GRACE}")}
        for stroke in strokes:
            grace = stroke.on.track in grace_tracks
            beat, length = self._beat(stroke.on.tick), self._beat(stroke.on.length or 0)
            place = beat + length if grace else beat
            mark = loudness(self.marks, place - lead)
            choke = stroke.zone == CHOKE
            level = Level.NORMAL if choke else level_at(stroke.on.velocity, mark)
            if grace:
                note = Note(place, stroke.voice, stroke.limb, level, stroke.zone)
                graces.append(replace(note, hand_assumed=stroke.assumed))
            elif length in values:
                value = values[length]
                note = Note(beat, stroke.voice, stroke.limb, level, stroke.zone, value)
                notes.append(replace(note, hand_assumed=stroke.assumed))
                mains.setdefault((beat, stroke.voice), values[length])
                mains.setdefault((beat, ""), values[length])
            else:
                return None
        if any(note.hand_assumed for note in notes):
            self.assumed.append(HANDS_ASSUMED)
        return notes + _numbered(graces, mains)

    def _without_lead_in(
        self, notes: list[Note], bars: tuple[Bar, ...]
    ) -> tuple[list[Note], tuple[Bar, ...], tuple[Section, ...]]:
        sections = self._sections(bars)
        marks = [text.text for text in self.file.texts if text.kind == MARKER]
        if not (self.own and LEAD_IN in marks and len(bars) > 1):
            return notes, bars, sections
        by = bars[0].end
        return (
            [replace(note, beat=note.beat - by) for note in notes],
            tuple(replace(bar, start=bar.start - by) for bar in bars[1:]),
            tuple(replace(one, first_bar=one.first_bar - 1) for one in sections if one.first_bar),
        )

    def _sections(self, bars: tuple[Bar, ...]) -> tuple[Section, ...]:
        """Return the stretches between the markers that are on bar lines."""
        starts = [bar.start for bar in bars]
        firsts: dict[int, str] = {}
        for text in self.file.texts:
            beat = self._beat(text.tick)
            at = bisect_left(starts, beat)
            if text.kind == MARKER and at < len(bars) and starts[at] == beat:
                firsts[at] = text.text
        edges = [*sorted(firsts), len(bars)]
        return tuple(
            _section(firsts[first], first, after - first) for first, after in pairwise(edges)
        )

    def _bars(self, strokes: Sequence[MidiStroke], notes: Sequence[Note] | None) -> tuple[Bar, ...]:
        """Return the bars up to the last stroke, or to the file's end where that is a bar line."""
        if notes is None:
            last = self._beat(strokes[-1].on.tick) + bar_line_slack(self.file)
        else:
            last = max(note.beat for note in notes)
        changes = []
        for tick, beats, unit, _ in self.file.meters:
            if not 1 <= beats <= 64 or unit > 64:
                raise BadInput(f"a meter of {beats}/{unit} cannot be played", fix="correct it")
            changes.append((self._beat(tick), Meter(beats, unit)))
        bars, reported = lay_bars(changes, last, self._beat(self.file.end_tick))
        self.assumed += reported
        return bars


class MidiFeelRow(FeelRow, kw_only=True):
    """What the text event of our own files says; `tempo` is the pattern's own, in BPM."""

    tempo: Annotated[float, Meta(ge=MIN_TEMPO, le=MAX_TEMPO)] | None = None
    groups: Annotated[dict[str, tuple[Count, ...]], Meta(max_length=MAX_BARS)] = field(
        default_factory=dict
    )
    values: Annotated[dict[ValueName, tuple[Count, ...]], Meta(max_length=1000)] = field(
        default_factory=dict
    )
    buzzes: Annotated[tuple[Count, ...], Meta(max_length=MAX_STROKES)] = ()


_read_feel = reader(MidiFeelRow)


def _felt(pattern: Pattern, feel: MidiFeelRow) -> Pattern:
    """Return a pattern played as its file says, strokes back where they are written."""
    bars = tuple(
        replace(bar, meter=replace(bar.meter, groups=feel.groups[str(at)]))
        if sum(feel.groups.get(str(at), ())) == bar.meter.beats
        else bar
        for at, bar in enumerate(pattern.bars)
    )
    felt = feel.over(replace(pattern, bars=bars, tempo=feel.tempo or pattern.tempo))
    notes = list(felt.notes)
    for name, valued in feel.values.items():
        for at in valued:
            if at < len(notes):
                notes[at] = replace(notes[at], value=name)
    if felt.swing:
        places = PlayedPlaces(replace(felt, notes=(), tempo_changes=()))
        notes = sorted((_unswung(note, places) for note in notes), key=note_order)
    for at in feel.buzzes:
        if at < len(notes):
            notes[at] = replace(notes[at], buzz=True)
    return replace(felt, notes=tuple(notes))


_PARTS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 18, 20, 22, 24, 28, 32)
"""Parts of a quarter note that a stroke which swings can be on."""

NEAR = 1e-3
"""How far beside its place, in quarter notes, a swung stroke may be after two roundings."""


def _unswung(note: Note, places: PlayedPlaces) -> Note:
    if NOTE_VALUES[note.value].actual > 1:
        return note
    written = places.written(float(note.beat))
    found = (Fraction(round(written * parts), parts) for parts in _PARTS)
    beat = next((one for one in found if abs(float(one) - written) < NEAR), note.beat)
    return replace(note, beat=beat)


def _numbered(graces: list[Note], mains: dict[tuple[Fraction, str], str]) -> list[Note]:
    """Give our own grace strokes, sorted by time, their numbers and their main strokes' values."""
    count: Counter[Fraction] = Counter()
    found = []
    for note in reversed(graces):
        count[note.beat] += 1
        value = mains.get((note.beat, note.voice)) or mains.get((note.beat, ""), "16")
        found.append(replace(note, grace=count[note.beat], value=value))
    return found


def _named_limb(track: str) -> Limb | None:
    """Return the limb a track is named after."""
    first = track.partition(" ")[0]
    return Limb(first) if first in tuple(Limb) else None


def _section(text: str, first: int, count: int) -> Section:
    found = _TIMES.fullmatch(text)
    times = int(found[2]) if found else 1
    if found and times > 1 and count % times == 0:
        return Section(found[1], first, count, times)
    return Section(text, first, count)


def _one_line(text: str) -> str:
    return " ".join(text.split())[:200]
