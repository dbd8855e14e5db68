"""A Standard MIDI File as a pattern.

Percussion is what stands on channel 10; a file with notes on one other channel only is taken at
that and the pattern says so. Bars come from the time signatures (4/4 without any), drums and zones
through the kit's note map, levels from velocities, note values from the shortest sensible grid
(`trainer.pattern.grid`). A stroke a little before another and off the grid is its grace stroke.
Feet play the voices of the feet; the hands' sticking is taken from tracks named RH and LH, else
inferred, and `assumed` says so. What `trainer.pattern.smf_write` wrote comes back as it was.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.note_map import GENERAL_MIDI, Kit
from trainer.kit.voices import VOICES, full_zone
from trainer.pattern.grid import UNIT, Onset, Placed, Spread, place, share_on_grid
from trainer.pattern.levels import level_of, levels_of
from trainer.pattern.midi_file import (
    DEFAULT_TEMPO_US,
    MARKER,
    NAME,
    PERCUSSION,
    TEXT,
    MidiFile,
    NoteOn,
    bpm_of,
    read_midi,
)
from trainer.pattern.model import Bar, Meter, Note, Pattern, Section, note_order
from trainer.pattern.smf_write import GRACE, LEAD_IN, OWN
from trainer.pattern.tables import NOTE_VALUES, Level, Limb

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_BARS = 10_000
LOWEST_TEMPO, HIGHEST_TEMPO = 20.0, 400.0

USUAL_S, LARGEST_S = 0.012, 0.040
"""How far played strokes stand beside the grid, in seconds (common practice, no source)."""

GRACE_WINDOW_S = 0.050
MOST_GRACES = 3
"""A stroke at most this long before a louder one on the same drum is its grace stroke."""

_FOOT = {"kick": Limb.RF, "kick2": Limb.LF, "pedal": Limb.LF}
_SHORT_UNITS = (4, 8, 16, 32, 64)
_TIMES = re.compile(r"(.*) x(\d{1,4})", re.ASCII | re.DOTALL)


def read(source: Path | str | bytes, name: str = "", kit: Kit = GENERAL_MIDI) -> Pattern:
    """Read a MIDI file, or the bytes of one, as a pattern called `name` (else as the file).

    Raises BadInput for a file that breaks the format, has no percussion, or has more bars than a
    pattern can hold.
    """
    where = name or ("the MIDI file" if isinstance(source, bytes) else Path(source).name)
    file = read_midi(source, where)
    try:
        return _Reader(file, name or (Path(where).stem), kit).pattern()
    except BadInput as error:
        error.at(where)
        raise


@dataclass(slots=True)
class _Stroke:
    """A note-on with its drum: `main` is the stroke a grace stroke belongs to."""

    on: NoteOn
    voice: str
    zone: str
    main: _Stroke | None = None


class _Reader:
    """One file on its way to a pattern; `assumed` collects what was inferred."""

    def __init__(self, file: MidiFile, name: str, kit: Kit) -> None:
        self.file, self.name, self.kit = file, name, kit
        self.assumed: list[str] = []
        self.own = any(text.kind == TEXT and text.text == OWN for text in file.texts)
        self.tempo_us = file.tempos[0][1] if file.tempos else DEFAULT_TEMPO_US
        self.tracks = {text.track: text.text for text in file.texts if text.kind == NAME}

    def pattern(self) -> Pattern:
        strokes = self._strokes()
        notes = self._as_written(strokes) if self.own else None
        bars = self._bars(strokes, notes)
        if notes is None:
            notes = self._inferred(strokes, bars)
        notes, bars, sections = self._without_lead_in(notes, bars)
        tempo, unit = self._tempo(bars[0].meter)
        return Pattern(
            name=self.name,
            title=_one_line(self.tracks.get(0, "")) or self.name,
            bars=bars,
            notes=tuple(sorted(notes, key=note_order)),
            sections=sections,
            tempo=tempo,
            tempo_unit=unit,
            assumed=tuple(self.assumed),
        )

    def _strokes(self) -> list[_Stroke]:
        """Return the percussion of the file with its drums; strokes without a drum are told."""
        found, unknown = [], Counter[int]()
        for on in self._percussion():
            pad = self.kit.pad(on.note)
            if pad is None:
                unknown[on.note] += 1
            else:
                zone = "" if pad.zone == full_zone(pad.voice, "") else pad.zone
                found.append(_Stroke(on, pad.voice, zone))
        if unknown:
            count = ", ".join(f"{times} of note {note}" for note, times in sorted(unknown.items()))
            self.assumed.append(f"left out: what is no drum of the kit, {count}")
        if not found:
            raise BadInput("the file has no percussion", mend="export the drum track")
        return found

    def _percussion(self) -> list[NoteOn]:
        notes = self.file.notes
        channels = {on.channel for on in notes}
        if PERCUSSION not in channels and len(channels) > 1:
            raise BadInput(
                "nothing is on the percussion channel 10, and several other channels have notes",
                mend="export the drum track alone",
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
        return tick / self.file.ticks_per_quarter

    def _tempo(self, meter: Meter) -> tuple[float, Fraction]:
        """Return the tempo and the note it counts, in quarter notes."""
        clicks = self.file.meters[0][3] if self.file.meters else 24
        compound = meter.unit == 8 and meter.beats % 3 == 0 and clicks == 36
        unit = Fraction(clicks, 24) if clicks and (self.own or compound) else Fraction(1)
        bpm = bpm_of(self.tempo_us)
        tempo = round(bpm / float(unit), 5) if unit != 1 else bpm
        kept = min(max(tempo, LOWEST_TEMPO), HIGHEST_TEMPO)
        if kept != tempo:
            self.assumed.append(f"tempo: {kept:g} BPM, as the file's {tempo:g} is out of range")
        if len({row[1] for row in self.file.tempos}) > 1:
            self.assumed.append("tempo: the first of several")
        return kept, unit

    # -- what was written by us ---------------------------------------------------------------

    def _as_written(self, strokes: Sequence[_Stroke]) -> list[Note] | None:
        """Return the notes at their word, or None where a length is no note value any more."""
        values = {value.length: name for name, value in NOTE_VALUES.items()}
        mains: dict[tuple[Fraction, str], str] = {}
        notes, graces = [], []
        for stroke in strokes:
            limb, grace = self._track_says(stroke)
            beat, length = self._beat(stroke.on.tick), self._beat(stroke.on.length or 0)
            note = Note(beat, stroke.voice, limb, level_of(stroke.on.velocity), stroke.zone)
            if grace:
                graces.append(replace(note, beat=beat + length))
            elif length in values:
                notes.append(replace(note, value=values[length]))
                mains.setdefault((beat, stroke.voice), values[length])
                mains.setdefault((beat, ""), values[length])
            else:
                return None
        return notes + _numbered(graces, mains)

    def _track_says(self, stroke: _Stroke) -> tuple[Limb | None, bool]:
        """Return the limb a stroke's track is named after, and whether it is of grace strokes."""
        limb, _, rest = self.tracks.get(stroke.on.track, "").partition(" ")
        return (Limb(limb) if limb in tuple(Limb) else None), rest == GRACE

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
        """Return the stretches between the markers that stand on bar lines."""
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

    # -- bars -----------------------------------------------------------------------------------

    def _bars(self, strokes: Sequence[_Stroke], notes: Sequence[Note] | None) -> tuple[Bar, ...]:
        """Return the bars up to the last stroke, or to the file's end where that is a bar line."""
        if notes is None:
            last = self._beat(strokes[-1].on.tick) + self._slack()
        else:
            last = max(note.beat for note in notes)
        end = self._beat(self.file.end_tick)
        changes = self._meters()
        bars: list[Bar] = []
        start, meter = Fraction(0), Meter()
        while start <= last or (start < end and self._ends_on_line(start, end, meter, changes)):
            while changes and changes[0][0] <= start:
                meter = changes.pop(0)[1]
            bar = Bar(start, self._cut(start, meter, changes))
            bars.append(bar)
            start = bar.end
            if len(bars) > MOST_BARS:
                raise BadInput(
                    f"the file has more than {MOST_BARS:,} bars", mend="cut it into shorter files"
                )
        return tuple(bars)

    def _ends_on_line(
        self, start: Fraction, end: Fraction, meter: Meter, changes: list[tuple[Fraction, Meter]]
    ) -> bool:
        return bool(changes) or (end - start) % meter.length == 0

    def _meters(self) -> list[tuple[Fraction, Meter]]:
        found = []
        for tick, beats, unit, _ in self.file.meters:
            if not 1 <= beats <= 64 or unit > 64:
                raise BadInput(f"a meter of {beats}/{unit} cannot be played", mend="correct it")
            found.append((self._beat(tick), Meter(beats, unit)))
        return found

    def _cut(
        self, start: Fraction, meter: Meter, changes: Sequence[tuple[Fraction, Meter]]
    ) -> Meter:
        """Return the bar's meter, shorter where the next change of meter comes inside the bar."""
        if not changes or changes[0][0] >= start + meter.length:
            return meter
        room = changes[0][0] - start
        for unit in _SHORT_UNITS:
            beats = room * unit / 4
            if unit >= meter.unit and beats.denominator == 1:
                self.assumed.append(f"meter: a bar of {meter} cut short by a change of meter")
                return Meter(int(beats), unit)
        return meter

    # -- what others wrote or played ------------------------------------------------------------

    def _inferred(self, strokes: list[_Stroke], bars: tuple[Bar, ...]) -> list[Note]:
        """Return the notes on the shortest sensible grid, with levels, graces and limbs."""
        self._find_graces(strokes)
        mains = [stroke for stroke in strokes if stroke.main is None]
        placed = self._placed(mains, bars)
        levels = levels_of([stroke.on.velocity for stroke in mains])
        notes: dict[int, Note] = {}
        seen: set[tuple[Fraction, str, str]] = set()
        for stroke, level in zip(mains, levels, strict=True):
            spot = placed[id(stroke)]
            if (spot.beat, stroke.voice, stroke.zone) not in seen:
                seen.add((spot.beat, stroke.voice, stroke.zone))
                limb = _FOOT.get(stroke.voice) or self._track_says(stroke)[0]
                notes[id(stroke)] = Note(
                    spot.beat, stroke.voice, limb, level, stroke.zone, spot.value
                )
        lost = len(mains) - len(notes)
        if lost:
            self.assumed.append(f"left out: {lost} strokes that fell on another of the same drum")
        return [*notes.values(), *_graces(strokes, notes)]

    def _quarter_s(self) -> float:
        if self.file.ticks_per_second:
            return float(self.file.ticks_per_quarter / self.file.ticks_per_second)
        return self.tempo_us / 1e6

    def _slack(self) -> Fraction:
        """Return how far before a bar line a stroke still belongs to it, in quarter notes."""
        return Fraction(self._spreads()[0].largest) / UNIT

    def _spreads(self) -> tuple[Spread, ...]:
        """Return the spreads to believe: ticks in a file written on a grid, else milliseconds."""
        tick = float(UNIT / self.file.ticks_per_quarter)
        rounding = max(0.55 * tick, min(1.05 * tick, UNIT / 240))
        quarter = self._quarter_s()
        largest = min(LARGEST_S / quarter, 0.125) * UNIT
        played = Spread(max(USUAL_S / quarter * UNIT, tick), max(largest, rounding))
        onsets = [Onset(self._place(on.tick), "") for on in self.file.notes]
        if share_on_grid(onsets, int(rounding)) < 0.8:
            return (played,)
        return Spread(rounding, rounding), played

    def _place(self, tick: int) -> int:
        return round(self._beat(tick) * UNIT)

    def _placed(self, mains: list[_Stroke], bars: tuple[Bar, ...]) -> dict[int, Placed]:
        """Return where each stroke belongs; hands and feet have a grid of their own."""
        spreads = self._spreads()
        found: dict[int, Placed] = {}
        for foot in (False, True):
            group = [stroke for stroke in mains if VOICES[stroke.voice].foot is foot]
            onsets = [Onset(self._place(s.on.tick), f"{s.voice}:{s.zone}") for s in group]
            rows = place(onsets, bars, spreads)
            found |= {id(stroke): row for stroke, row in zip(group, rows, strict=True)}
        return found

    def _find_graces(self, strokes: Sequence[_Stroke]) -> None:
        """Join each grace stroke to its main stroke, from the last stroke backwards."""
        clock = self.file.tempo_map()
        after: dict[str, tuple[float, _Stroke, int]] = {}
        for stroke in reversed(strokes):
            now = clock.seconds(stroke.on.tick)
            count = 0
            if stroke.voice in after and not VOICES[stroke.voice].foot:
                then, main, count = after[stroke.voice]
                softer = stroke.on.velocity < main.on.velocity
                near = 0 < then - now <= GRACE_WINDOW_S
                if near and softer and count < MOST_GRACES and not self._on_grid(stroke):
                    stroke.main = main
            main = stroke.main or stroke
            after[stroke.voice] = (now, main, count + 1 if stroke.main else 0)

    def _on_grid(self, stroke: _Stroke) -> bool:
        tick = float(UNIT / self.file.ticks_per_quarter)
        return share_on_grid([Onset(self._place(stroke.on.tick), "")], int(tick / 2)) == 1.0


def _graces(strokes: Sequence[_Stroke], notes: dict[int, Note]) -> list[Note]:
    """Return the grace strokes of the main strokes that were kept, numbered from the nearest."""
    found, count = [], Counter[int]()
    for stroke in reversed(strokes):
        if stroke.main is not None and id(stroke.main) in notes:
            main = id(stroke.main)
            count[main] += 1
            note = replace(notes[main], limb=None, zone=stroke.zone, grace=count[main])
            found.append(replace(note, level=Level.NORMAL))
    return found


def _numbered(graces: list[Note], mains: dict[tuple[Fraction, str], str]) -> list[Note]:
    """Give our own grace strokes, sorted by time, their numbers and their main strokes' values."""
    count: Counter[Fraction] = Counter()
    found = []
    for note in reversed(graces):
        count[note.beat] += 1
        value = mains.get((note.beat, note.voice)) or mains.get((note.beat, ""), "16")
        found.append(replace(note, grace=count[note.beat], value=value))
    return found


def _section(text: str, first: int, count: int) -> Section:
    found = _TIMES.fullmatch(text)
    times = int(found[2]) if found else 1
    if found and times > 1 and count % times == 0:
        return Section(found[1], first, count, times)
    return Section(text, first, count)


def _one_line(text: str) -> str:
    return " ".join(text.split())[:200]
