"""A pattern as it is written: bars and notes at exact places, with nothing played yet.

Beats are quarter notes from the start of the pattern, as exact fractions. A note's grace number is
0 for a main stroke; grace strokes carry the beat of their main stroke and count back from it
(1 stands nearest to it), because their distance is a matter of touch, not of the written grid.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from trainer.pattern.tables import Level, Limb


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature: `beats` notes of the kind `unit` (4 = quarter) fill a bar."""

    beats: int = 4
    unit: int = 4

    @property
    def length(self) -> Fraction:
        """The bar's length in quarter notes."""
        return Fraction(4 * self.beats, self.unit)

    @property
    def beat(self) -> Fraction:
        """One written beat in quarter notes."""
        return Fraction(4, self.unit)

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar: its first beat (quarter notes from the pattern's start) and its meter."""

    start: Fraction
    meter: Meter

    @property
    def end(self) -> Fraction:
        """The first beat after the bar."""
        return self.start + self.meter.length


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of bars that is played `times` times over.

    The pattern's bars hold every repeat in full, and `bar_count` counts them all, so it is a
    multiple of `times`.
    """

    title: str
    first_bar: int
    bar_count: int
    times: int = 1


@dataclass(frozen=True, slots=True)
class Note:
    """One written stroke: where, on what, with which limb, how loud, in which note value.

    `zone` is the place on the voice (empty: its ordinary place). `value` is a name of NOTE_VALUES:
    the grid the stroke belongs to, not how long it sounds. `limb` is None where nobody said.
    """

    beat: Fraction
    voice: str
    limb: Limb | None = None
    level: Level = Level.NORMAL
    zone: str = ""
    value: str = "16"
    grace: int = 0


@dataclass(frozen=True, slots=True)
class Pattern:
    """A whole pattern, bar by bar and note by note, in the order it is played.

    Notes are sorted by (beat, falling grace, voice). `tempo` is a suggestion in BPM; `tempo_unit`
    is the note that BPM counts, in quarter notes. `assumed` lists, in words, what was inferred
    rather than written (for instance the sticking).
    """

    name: str
    title: str
    bars: tuple[Bar, ...]
    notes: tuple[Note, ...]
    sections: tuple[Section, ...] = ()
    about: str = ""
    tags: tuple[str, ...] = ()
    level: int = 1
    tempo: float = 60.0
    tempo_unit: Fraction = field(default=Fraction(1))
    assumed: tuple[str, ...] = ()

    @property
    def meter(self) -> Meter:
        """The first bar's meter."""
        return self.bars[0].meter

    @property
    def length(self) -> Fraction:
        """The whole pattern in quarter notes."""
        return self.bars[-1].end

    @property
    def strokes(self) -> int:
        """How many main strokes are written (grace strokes left out)."""
        return sum(note.grace == 0 for note in self.notes)


def bar_of(pattern: Pattern, beat: Fraction) -> int:
    """Return the index of the bar that holds a beat (quarter notes from the start)."""
    low, high = 0, len(pattern.bars)
    while high - low > 1:
        middle = (low + high) // 2
        if pattern.bars[middle].start <= beat:
            low = middle
        else:
            high = middle
    return low


def note_order(note: Note) -> tuple[Fraction, int, str, str]:
    """Sort key of notes inside a pattern."""
    return (note.beat, -note.grace, note.voice, note.zone)
