"""A Standard MIDI File taken apart: note-ons, tempo map, meters and texts, all in ticks.

Written from the Standard MIDI File 1.1 specification. It is our own reader because a file from a
stranger must be read in bounded time and its faults reported in words: time-code divisions are
decoded, chunks of unknown kinds are skipped, a variable-length number ends after four bytes, and
what the program has no use for (key signatures, system exclusive) is skipped by its length.
`velocity_of` and `level_of` convert between levels and velocities.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import BadInput, named
from trainer.file_system import read_bytes
from trainer.pattern.model import DYNAMICS, Level

if TYPE_CHECKING:
    from collections.abc import Sequence


VELOCITY = {Level.GHOST: 36, Level.NORMAL: 80, Level.ACCENT: 116}
"""The velocity a level is written with (common practice, no source)."""

LOUDEST_GHOST, SOFTEST_ACCENT = 50, 104


PLAIN_MARK = DYNAMICS.index("mf")
"""The mark whose strokes have the velocities above."""

SOFTER_STEP, LOUDER_STEP = 16, 9
"""How much softer or louder a plain stroke is from mark to mark (common practice, no source). The
louder ones leave room for their accents.
"""


def velocity_of(level: Level, mark: float | None = None) -> int:
    """Return the velocity a level is written with at a mark of loudness.

    `mark` is a number of DYNAMICS, with parts of it in a crescendo; None is no mark.
    """
    if mark is None:
        return VELOCITY[level]
    plain, above = VELOCITY[Level.NORMAL], mark - PLAIN_MARK
    factor = 1 + above * (LOUDER_STEP if above > 0 else SOFTER_STEP) / plain
    return min(max(round(VELOCITY[level] * factor), 1), 127)


def level_at(velocity: int, mark: float | None) -> Level:
    """Return the level that `velocity_of` writes as a velocity at a mark: the nearest."""
    if mark is None:
        return level_of(velocity)
    return min(Level, key=lambda level: abs(velocity_of(level, mark) - velocity))


def level_of(velocity: int) -> Level:
    """Return the level a velocity means: a ghost up to 50, an accent from 104."""
    if velocity <= LOUDEST_GHOST:
        return Level.GHOST
    return Level.ACCENT if velocity >= SOFTEST_ACCENT else Level.NORMAL


def levels_of(velocities: Sequence[int]) -> list[Level]:
    """Return the level of each stroke; strokes that are all of one level are all normal.

    A file with every velocity at 127 says nothing about accents.
    """
    levels = [level_of(velocity) for velocity in velocities]
    return levels if len(set(levels)) > 1 else [Level.NORMAL] * len(levels)


PERCUSSION = 9
"""General MIDI's percussion channel, counted from 0 (people say 10)."""

DEFAULT_TEMPO_US = 500_000
"""Microseconds a quarter where no tempo is written: 120 BPM (SMF 1.1)."""

MAX_BYTES = 8 * 2**20
MAX_NOTES = 1_000_000
MAX_TEXTS = 100_000
"""Further texts are passed over: nothing in a pattern needs so many."""

TEXT, NAME, LYRIC, MARKER = 0x01, 0x03, 0x05, 0x06
_TEXTS = (TEXT, NAME, LYRIC, MARKER)
_END, _TEMPO, _METER = 0x2F, 0x51, 0x58

_DATA_BYTES = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}


@dataclass(slots=True)
class NoteOn:
    """A note-on with a velocity above 0; `length` is in ticks, None where no note-off follows.

    Or pressure on a note (`MidiFile.chokes`), which ends where 0 is sent.
    """

    tick: int
    track: int
    channel: int
    note: int
    velocity: int
    length: int | None = None


@dataclass(slots=True)
class MidiText:
    """A text event: `kind` is TEXT, NAME, LYRIC or MARKER."""

    tick: int
    track: int
    kind: int
    text: str


@dataclass(slots=True)
class MidiFile:
    """What a file says, in the order of time; tracks at the same tick keep their order.

    `ticks_per_quarter` is a fraction because in a file timed by time code (`ticks_per_second` is
    set, else None) a quarter note is what the first tempo makes of it; tempo changes then move
    nothing. `tempos` holds (tick, microseconds a quarter), `meters` (tick, beats, unit, clocks a
    click), both possibly empty.
    """

    format: int
    ticks_per_quarter: Fraction
    ticks_per_second: Fraction | None = None
    track_count: int = 0
    notes: list[NoteOn] = field(default_factory=list)
    chokes: list[NoteOn] = field(default_factory=list)
    tempos: list[tuple[int, int]] = field(default_factory=list)
    meters: list[tuple[int, int, int, int]] = field(default_factory=list)
    texts: list[MidiText] = field(default_factory=list)
    end_tick: int = 0

    def tempo_map(self) -> TempoMap:
        """Return the way from ticks to seconds."""
        return TempoMap(self)


class TempoMap:
    """Seconds from ticks. Sums are kept in whole numbers, so each time is rounded once."""

    def __init__(self, file: MidiFile) -> None:
        self._rate = file.ticks_per_second
        self._ticks = [0]
        self._tempos = [DEFAULT_TEMPO_US]
        self._sums = [0]
        self._scale = 1_000_000 * file.ticks_per_quarter
        for tick, tempo in [] if self._rate else file.tempos:
            self._sums.append(self._sums[-1] + (tick - self._ticks[-1]) * self._tempos[-1])
            self._ticks.append(tick)
            self._tempos.append(tempo)

    def seconds(self, tick: int) -> float:
        """Return the time of a tick in seconds from the file's start."""
        if self._rate:
            return float(tick / self._rate)
        at = bisect_right(self._ticks, tick) - 1
        return float((self._sums[at] + (tick - self._ticks[at]) * self._tempos[at]) / self._scale)


def read_midi(source: Path | str | bytes, name: str = "") -> MidiFile:
    """Read a file, or the bytes of one; `name` is what errors call it.

    Raises BadInput for a file that cannot be opened, is too large, or breaks the format; the
    message names the byte.
    """
    where = name or ("the MIDI file" if isinstance(source, bytes) else Path(source).name)
    with named(where):
        data = source if isinstance(source, bytes) else read_bytes(Path(source), MAX_BYTES)
        return _parse(data)


def _parse(data: bytes) -> MidiFile:
    if len(data) > MAX_BYTES:
        raise BadInput(
            f"the file is larger than {MAX_BYTES // 2**20} MB, more than hours of playing",
            fix="export the drum track alone",
        )
    if data[:4] == b"RIFF" and data[8:12] == b"RMID":
        data = data[20:]
    if data[:4] != b"MThd" or len(data) < 14:
        raise BadInput("this is not a Standard MIDI File", fix="export one that starts with MThd")
    header = int.from_bytes(data[4:8], "big")
    file = _header(data[8:14])
    at = 8 + max(header, 6)
    while at + 8 <= len(data):
        kind, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "big")
        at += 8
        if kind == b"MTrk":
            if at + size > len(data):
                raise _broken("the file ends inside a track", len(data))
            _Track(data, at, at + size, file).read()
        at += size
    return _ordered(file)


def _header(body: bytes) -> MidiFile:
    """Read format and division (the six bytes after the chunk's length)."""
    kind, division = int.from_bytes(body[:2], "big"), int.from_bytes(body[4:6], "big")
    if kind > 2:
        raise _broken(f"there is no format {kind} of MIDI files", 8)
    if not division & 0x8000:
        if not division:
            raise _broken("the file has no ticks in a quarter note", 12)
        return MidiFile(kind, Fraction(division))
    frames, ticks = 256 - (division >> 8), division & 0xFF
    if frames not in (24, 25, 29, 30) or not ticks:
        raise _broken("the time code division is none of 24, 25, 29 and 30 frames", 12)
    # 29 stands for the 29.97 frames of drop-frame time code.
    rate = (Fraction(30000, 1001) if frames == 29 else Fraction(frames)) * ticks
    return MidiFile(kind, Fraction(1), ticks_per_second=rate)


def _ordered(file: MidiFile) -> MidiFile:
    """Put the events of all tracks in the order of time."""
    for events in (file.notes, file.chokes, file.texts):
        events.sort(key=lambda event: event.tick)
    file.tempos.sort(key=lambda row: row[0])
    file.meters.sort(key=lambda row: row[0])
    if file.ticks_per_second:
        tempo = file.tempos[0][1] if file.tempos else DEFAULT_TEMPO_US
        file.ticks_per_quarter = file.ticks_per_second * tempo / 1_000_000
    return file


def _broken(what: str, at: int) -> BadInput:
    return BadInput(what, where=f"byte {at}", fix="export the file again")


class _Track:
    """Reads the events of one track chunk into the file."""

    def __init__(self, data: bytes, start: int, end: int, file: MidiFile) -> None:
        self.data, self.at, self.end, self.file = data, start, end, file
        self.number = file.track_count
        self.sounding: dict[tuple[int, int], deque[NoteOn]] = {}
        self.pressed: dict[tuple[int, int], NoteOn] = {}
        file.track_count += 1

    def read(self) -> None:
        tick = status = 0
        while self.at < self.end:
            tick += self._number()
            first = self._byte()
            if first == 0xFF:
                if self._meta(tick):
                    break
            elif first in (0xF0, 0xF7):
                self._skip(self._number())
                status = 0
            else:
                status = self._channel_event(tick, status, first)
        self.file.end_tick = max(self.file.end_tick, tick)

    def _byte(self) -> int:
        if self.at >= self.end:
            raise _broken("a track ends inside an event", self.at)
        self.at += 1
        return self.data[self.at - 1]

    def _number(self) -> int:
        """Read a variable-length number: seven bits a byte, four bytes at most."""
        value = 0
        for _ in range(4):
            byte = self._byte()
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise _broken("a number is longer than the format allows", self.at)

    def _skip(self, size: int) -> bytes:
        start, self.at = self.at, self.at + size
        if self.at > self.end:
            raise _broken("a track ends inside an event", start)
        return self.data[start : self.at]

    def _channel_event(self, tick: int, status: int, first: int) -> int:
        """Read an event of a channel, running status included; return the status in force."""
        if first >= 0x80:
            status = first
        else:
            self.at -= 1
        if not 0x80 <= status < 0xF0:
            raise _broken(f"{first:#04x} is no event", self.at)
        kind, channel = status & 0xF0, status & 0x0F
        body = self._skip(_DATA_BYTES[kind])
        if max(body) > 0x7F:
            raise _broken("a data byte is above 127", self.at)
        if kind == 0x90 and body[1]:
            self._note_on(NoteOn(tick, self.number, channel, body[0], body[1]))
        elif kind in (0x80, 0x90):
            self._note_off(tick, channel, body[0])
        elif kind == 0xA0:
            self._pressure(tick, channel, body[0], body[1])
        return status

    def _note_on(self, note: NoteOn) -> None:
        if len(self.file.notes) >= MAX_NOTES:
            raise BadInput(
                f"the file holds more than {MAX_NOTES:,} notes", fix="cut it into shorter files"
            )
        self.file.notes.append(note)
        self.sounding.setdefault((note.channel, note.note), deque()).append(note)

    def _note_off(self, tick: int, channel: int, number: int) -> None:
        waiting = self.sounding.get((channel, number))
        if waiting:
            note = waiting.popleft()
            note.length = tick - note.tick

    def _pressure(self, tick: int, channel: int, number: int, value: int) -> None:
        """Take in pressure on a note: kits send it when a cymbal is grabbed (common practice)."""
        held = self.pressed.pop((channel, number), None)
        if held:
            held.length = tick - held.tick
        if value and held:
            self.pressed[channel, number] = held
        elif value and len(self.file.chokes) < MAX_NOTES:
            self.pressed[channel, number] = NoteOn(tick, self.number, channel, number, value)
            self.file.chokes.append(self.pressed[channel, number])

    def _meta(self, tick: int) -> bool:
        """Read a meta event; return True at the end of the track."""
        kind = self._byte()
        body = self._skip(self._number())
        if kind in _TEXTS and len(self.file.texts) < MAX_TEXTS:
            self.file.texts.append(MidiText(tick, self.number, kind, _decoded(body)))
        elif kind == _TEMPO and len(body) == 3 and any(body):
            self.file.tempos.append((tick, int.from_bytes(body, "big")))
        elif kind == _METER and len(body) >= 3:
            self.file.meters.append((tick, body[0], 2 ** min(body[1], 16), body[2]))
        return kind == _END


def bpm_of(tempo_us: int) -> float:
    """Return quarter notes a minute: the roundest number that is stored as this tempo."""
    exact = 60_000_000 / tempo_us
    for places in range(6):
        if round(60_000_000 / max(round(exact, places), 1e-3)) == tempo_us:
            return round(exact, places)
    return exact


def _decoded(body: Sequence[int]) -> str:
    """Text of no stated encoding: UTF-8 where it is that, else Latin-1."""
    try:
        return bytes(body).decode("utf-8")
    except UnicodeDecodeError:
        return bytes(body).decode("latin-1")
