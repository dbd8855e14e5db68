"""A pattern as it is written: bars and notes at exact places, with nothing played yet.

Beats are quarter notes from the start of the pattern, as exact fractions. A note's grace number is
0 for a main stroke; grace strokes carry the beat of their main stroke and count back from it (1 is
nearest to it), because their distance is a matter of touch, not of the written grid. A flam's
spacing is commonly 20 to 50 ms; a grace stroke never takes more than a third of its step (three and
four of them up to two thirds), so fast flams stay in order. A grace stroke may be on another drum.

How a pattern is played beyond its notes, each empty or off unless it is written:

- `Pattern.swing` (`Swing`): plain strokes of one value swing from bar to bar.
- `Pattern.tempo_changes` (`TempoChange`): another tempo from a beat on, at once or gradually.
- `Pattern.dynamics` (`Dynamic`): pp to ff from a beat on, or a crescendo or diminuendo.
- `Meter.groups`: how the beats of a bar are grouped, 3+2+2.
- `Note.buzz`: a stroke that sounds on as a buzz until its step is over.

Notes are at the beats that are written, without swing; `trainer.pattern.as_played` works out when
and how loud they are due. A rule that holds for a stretch has its first beat (`start`) and, where
it has an end, the beat it ends before (`end`), both in quarter notes.

The tables below hold note values, limbs, levels and the signs of a grid as rows; parsers, writers
and checks loop over them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from itertools import accumulate

from trainer.kit.voices import CHOKE, CHOKED


class Limb(StrEnum):
    """The four limbs, in the order rows are drawn."""

    RH = "RH"
    LH = "LH"
    RF = "RF"
    LF = "LF"


LIMB_NAMES: dict[str, str] = {
    Limb.RH: "right hand",
    Limb.LH: "left hand",
    Limb.RF: "right foot",
    Limb.LF: "left foot",
}
LIMB_UNKNOWN = "unsaid"
"""What is written for the limb where the pattern names none."""

HANDS = (Limb.RH, Limb.LH)
FEET = (Limb.RF, Limb.LF)
FOOT_LIMB = {"kick": Limb.RF, "kick2": Limb.LF, "pedal": Limb.LF}
"""Which foot plays each voice of the feet."""


class Level(StrEnum):
    """How loud a stroke is written."""

    GHOST = "ghost"
    NORMAL = "normal"
    ACCENT = "accent"


MIN_TEMPO, MAX_TEMPO = 20.0, 400.0
"""The tempos that can be written and played, in BPM, whatever note they count."""

MAX_STROKES, MAX_BARS = 200_000, 20_000
"""The most a pattern may hold; longer ones are refused before they are written out."""


@dataclass(frozen=True, slots=True)
class Sign:
    """What one sign of a grid means: level, grace strokes, zone, the hand if written, a buzz."""

    level: Level = Level.NORMAL
    graces: int = 0
    zone: str = ""
    hand: str = ""
    buzz: bool = False


SIGNS: dict[str, Sign] = {
    "x": Sign(),
    "o": Sign(),
    "X": Sign(Level.ACCENT),
    "O": Sign(Level.ACCENT),
    "g": Sign(Level.GHOST),
    "f": Sign(graces=1),
    "F": Sign(Level.ACCENT, graces=1),
    "d": Sign(graces=2),
    "D": Sign(Level.ACCENT, graces=2),
    "z": Sign(buzz=True),
    "Z": Sign(Level.ACCENT, buzz=True),
    "R": Sign(hand="R"),
    "L": Sign(hand="L"),
}
"""Signs of a written grid on any voice, as tab is written (common practice); `-` and `.` rest."""

ZONE_SIGNS: dict[tuple[str, str], Sign] = {
    ("hihat", "o"): Sign(zone="open"),
    ("hihat", "O"): Sign(Level.ACCENT, zone="open"),
    ("hihat", "h"): Sign(zone="half-open"),
    ("hihat", "H"): Sign(Level.ACCENT, zone="half-open"),
    ("ride", "b"): Sign(zone="bell"),
    ("ride", "B"): Sign(Level.ACCENT, zone="bell"),
    ("snare", "@"): Sign(zone="rim"),
    ("snare", "w"): Sign(zone="cross-stick"),
    ("snare", "W"): Sign(Level.ACCENT, zone="cross-stick"),
    **{(voice, "#"): Sign(zone=CHOKE) for voice in CHOKED},
}
"""Signs (by voice and sign) that mean a zone on one voice, as tab is written (common practice).

The cross-stick is w, the sound of wood (our own choice): s and c are cymbals in most keys of tab.
"""

OLD_SIGNS = {("snare", "s"): "w", ("snare", "S"): "W"}
"""Signs that meant the cross-stick before, and the sign that does now."""


@dataclass(frozen=True, slots=True)
class NoteValue:
    """One note value.

    `name` is what a pattern file says (`16t`), `length` the distance from one stroke to the next
    in quarter notes, `base` the plain note it is written as (4 = quarter, 16 = sixteenth), `dots`
    its dots, and `actual` strokes take the time of `normal` (3 in 2 for a triplet).
    """

    name: str
    length: Fraction
    base: int
    dots: int = 0
    actual: int = 1
    normal: int = 1


def _note_values() -> dict[str, NoteValue]:
    """Every value from whole to 64th: plain, dotted, triplet, quintuplet, septuplet.

    A tuplet suffix names how many strokes take the time of how many plain ones: t = 3 in 2,
    q = 5 in 4, s = 7 in 4. Sextuplets are triplets of the next value (two joined).
    """
    kinds = (("", 0, 1, 1), (".", 1, 1, 1), ("t", 0, 3, 2), ("q", 0, 5, 4), ("s", 0, 7, 4))
    rows = {}
    for base in (1, 2, 4, 8, 16, 32, 64):
        for suffix, dots, actual, normal in kinds:
            plain = Fraction(4, base) * (Fraction(3, 2) if dots else 1)
            name = f"{base}{suffix}"
            rows[name] = NoteValue(name, plain * normal / actual, base, dots, actual, normal)
    return rows


USUAL_VALUES: dict[str, NoteValue] = _note_values()
"""The values that foreign files are read in and that choices offer."""


def _rare_values() -> dict[str, NoteValue]:
    """Every dotted triplet (`8t.`), and other tuplets by how many take the time of how many.

    `16(5/3)` are five sixteenths in the time of three, `32(11/8)` eleven in a quarter.
    """
    ratios = ((2, 3), (4, 3), (5, 3), (7, 3), (5, 6), (7, 6), (9, 8), (11, 8), (13, 8), (15, 8))
    rows = {}
    for base in (1, 2, 4, 8, 16, 32, 64):
        plain = Fraction(4, base)
        rows[f"{base}t."] = NoteValue(f"{base}t.", plain, base, 1, 3, 2)
        for actual, normal in ratios:
            name = f"{base}({actual}/{normal})"
            rows[name] = NoteValue(name, plain * normal / actual, base, 0, actual, normal)
    return rows


NOTE_VALUES: dict[str, NoteValue] = USUAL_VALUES | _rare_values()
"""Every note value by its name, the usual ones first: of two of a length the first is meant."""


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature: `beats` notes of the kind `unit` (4 = quarter) fill a bar.

    `groups` is how the beats are grouped (3, 2, 2 in 7/8), empty where nobody wrote it.
    """

    beats: int = 4
    unit: int = 4
    groups: tuple[int, ...] = ()

    @property
    def length(self) -> Fraction:
        """The bar's length in quarter notes."""
        return Fraction(4 * self.beats, self.unit)

    @property
    def beat(self) -> Fraction:
        """One written beat in quarter notes."""
        return Fraction(4, self.unit)

    @property
    def group_starts(self) -> frozenset[int]:
        """The beats that begin a group, from 0: all of them where no groups are written."""
        if not self.groups:
            return frozenset(range(self.beats))
        return frozenset(accumulate(self.groups[:-1], initial=0))

    @property
    def in_threes(self) -> bool:
        """Whether its beats are short and grouped in threes, as in 6/8."""
        if self.unit <= 4:
            return False
        return set(self.groups) == {3} if self.groups else self.beats % 3 == 0

    @property
    def written(self) -> str:
        """The meter as a pattern file writes it: `7/8 3+2+2`."""
        return f"{self} {'+'.join(map(str, self.groups))}" if self.groups else str(self)

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
    the grid the stroke belongs to, not how long it sounds. `limb` is None where nobody said;
    `hand_assumed` is True where nobody said either, and a drummer's default was taken. A `buzz`
    stroke is left to bounce until its value is over: what bounces is no stroke of its own.
    """

    beat: Fraction
    voice: str
    limb: Limb | None = None
    level: Level = Level.NORMAL
    zone: str = ""
    value: str = "16"
    grace: int = 0
    buzz: bool = False
    hand_assumed: bool = False

    @property
    def choke(self) -> bool:
        """Whether a cymbal is grabbed here rather than struck."""
        return self.zone == CHOKE

    @property
    def written_limb(self) -> Limb | None:
        """The limb where it is written, None where it was assumed: what figures may speak of."""
        return None if self.hand_assumed else self.limb


HAND_ASSUMED = "assumed"
"""The word that files written here have beside a hand that was assumed."""

STRAIGHT, MOST_SWING = Fraction(1, 2), Fraction(5, 6)
"""What the first of two swung strokes may have of the time of both."""


@dataclass(frozen=True, slots=True)
class Swing:
    """Swing from a beat to another: of two plain strokes of `value`, the first has `share` of both.

    `share` is from 1/2 (straight) to 5/6: 2/3 is 2:1, as in a shuffle. Strokes of tuplets stay.
    """

    start: Fraction
    end: Fraction
    value: str = "8"
    share: Fraction = Fraction(2, 3)


@dataclass(frozen=True, slots=True)
class TempoChange:
    """Another tempo from a beat on, in BPM of the pattern's own unit at the pattern's own tempo.

    With an `end` it is a gradual change that has reached the tempo `to` there. It holds until the
    next one.
    """

    start: Fraction
    tempo: float
    end: Fraction | None = None
    to: float = 0.0


DYNAMICS = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
"""The marks of loudness, softest first."""


@dataclass(frozen=True, slots=True)
class Dynamic:
    """A mark of DYNAMICS from a beat on; with an `end` it moves evenly to the mark `to` there.

    It holds until the next one. Accents and ghosts are louder and softer than what is marked.
    """

    start: Fraction
    mark: str
    end: Fraction | None = None
    to: str = ""


@dataclass(frozen=True, slots=True)
class Pattern:
    """A whole pattern, bar by bar and note by note, in the order it is played.

    Notes are sorted by (beat, falling grace, voice). `tempo` is a suggestion in BPM; `tempo_unit`
    is the note that BPM counts, in quarter notes. `assumed` lists, in words, what was inferred
    rather than written (for instance the sticking). `level` is None where none is written. Swing,
    tempo changes and dynamics are sorted by their start. `left_handed` is True where limbs are
    those of a left-handed kit (`trainer.pattern.handedness`).
    """

    name: str
    title: str
    bars: tuple[Bar, ...]
    notes: tuple[Note, ...]
    sections: tuple[Section, ...] = ()
    about: str = ""
    tags: tuple[str, ...] = ()
    level: int | None = None
    tempo: float = 60.0
    tempo_unit: Fraction = field(default=Fraction(1))
    assumed: tuple[str, ...] = ()
    swing: tuple[Swing, ...] = ()
    tempo_changes: tuple[TempoChange, ...] = ()
    dynamics: tuple[Dynamic, ...] = ()
    left_handed: bool = False

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


def beat_of(note: Note) -> Fraction:
    """Return the beat of a note: the key to look notes up by."""
    return note.beat


def note_order(note: Note) -> tuple[Fraction, int, str, str]:
    """Sort key of notes inside a pattern."""
    return (note.beat, -note.grace, note.voice, note.zone)


MOST_GRACES = 4
"""The most grace strokes that can be written before a stroke."""
