"""The written grid: its bars, columns, rows and cells, and the cursor that moves over them.

Arithmetic only; how a bar fits into a window is `grid_layout.py`. A bar's columns are its steps,
its rows are the pattern's voices from cymbals down to feet. One row more, under the voices, is for
pads the pattern never uses and notes the kit does not know. The cursor keeps no clock: whoever
shows it passes the time in seconds.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from math import gcd, lcm
from typing import TYPE_CHECKING, NamedTuple

from trainer.kit.voices import ROW, VOICES
from trainer.pattern.model import LIMB_NAMES, LIMB_UNKNOWN, bar_of

if TYPE_CHECKING:
    from trainer.pattern.model import Bar, Note, Pattern


MOST_EVEN_COLUMNS = 32
"""A bar is cut into even steps up to this many; beyond, only the steps that are written remain."""

SHORT_LABEL, LONG_LABEL = 2, 12
"""Characters of a row's name: its tab letters, or its title as far as it fits."""

LIMB_TITLES = LIMB_NAMES | {LIMB_UNKNOWN: "not said"}
LIMB_ROWS = tuple(LIMB_TITLES)


class Cell(NamedTuple):
    """One place on the grid; `row` counts the pattern's voices, then one for everything else."""

    bar: int
    column: int
    row: int


@dataclass(frozen=True, slots=True)
class BarColumns:
    """The steps of one bar: their beats (quarter notes from the pattern's start), and its beats.

    `counts` runs parallel to `beats`: the number of the written beat that begins there (from 1),
    or 0 between beats.
    """

    beats: tuple[Fraction, ...]
    counts: tuple[int, ...]

    def nearest(self, beat: float) -> int:
        """Return the column that is nearest to a beat."""
        after = bisect_right(self.beats, beat)
        if after == 0:
            return 0
        if after == len(self.beats):
            return after - 1
        left, right = self.beats[after - 1], self.beats[after]
        return after if right - beat < beat - left else after - 1

    def under(self, beat: float) -> int:
        """Return the last column that has begun at a beat."""
        return max(0, bisect_right(self.beats, beat) - 1)


def bar_columns(pattern: Pattern, bar: Bar) -> BarColumns:
    """Return the steps of a bar: even ones where few enough, else those that are written."""
    meter = bar.meter
    counted = {bar.start + meter.beat * count: count + 1 for count in range(meter.beats)}
    written = {note.beat for note in pattern.notes if bar.start <= note.beat < bar.end}
    places = sorted(written | set(counted))
    step = _common_step([place - bar.start for place in places] + [meter.length])
    even = int(meter.length / step)
    if even <= MOST_EVEN_COLUMNS:
        places = [bar.start + step * index for index in range(even)]
    return BarColumns(tuple(places), tuple(counted.get(place, 0) for place in places))


def _common_step(places: list[Fraction]) -> Fraction:
    """Return the longest step that reaches every place from 0."""
    bottom = lcm(*(place.denominator for place in places))
    return Fraction(gcd(*(int(place * bottom) for place in places)), bottom)


class PatternGrid:
    """The whole pattern as a grid: its rows, the columns of its bars, and each note's cell.

    Rows are voices from cymbals to feet, or, `by_limb`, the limbs that the pattern names.
    """

    def __init__(self, pattern: Pattern, *, by_limb: bool = False) -> None:
        self.pattern = pattern
        self.by_limb = by_limb
        self.rows = tuple(sorted({self._key(note) for note in pattern.notes}, key=self._order))
        self.other_row = len(self.rows)
        self.bars = tuple(bar_columns(pattern, bar) for bar in pattern.bars)
        self.notes: dict[Cell, tuple[int, ...]] = {}
        self._cells = tuple(self._cell(index) for index in range(len(pattern.notes)))
        for index, cell in enumerate(self._cells):
            self.notes[cell] = (*self.notes.get(cell, ()), index)

    def _key(self, note: Note) -> str:
        """Return what a note's row is called in `rows`."""
        if self.by_limb:
            return note.limb.value if note.limb else LIMB_UNKNOWN
        return note.voice

    def _order(self, row: str) -> int:
        return ROW[row] if row in ROW else LIMB_ROWS.index(row)

    def _cell(self, note_index: int) -> Cell:
        note = self.pattern.notes[note_index]
        bar = bar_of(self.pattern, note.beat)
        column = self.bars[bar].beats.index(note.beat)
        return Cell(bar, column, self.rows.index(self._key(note)))

    def cell_of(self, note_index: int) -> Cell:
        """Return where a note of the pattern is written."""
        return self._cells[note_index]

    def row_of(self, voice: str | None) -> int:
        """Return the row of a voice; pads the pattern never uses share the last row.

        A hit beside what is written has no limb: with rows by limb it goes to the last row too.
        """
        return self.rows.index(voice) if voice in self.rows else self.other_row

    def place(self, beat: float) -> tuple[int, int]:
        """Return the bar and column nearest to a beat; before the start that is the first one."""
        bar = bar_of(self.pattern, Fraction(beat))
        column = self.bars[bar].nearest(beat)
        end = self.pattern.bars[bar].end
        if bar + 1 < len(self.bars) and float(end) - beat < beat - self.bars[bar].beats[column]:
            return bar + 1, 0
        return bar, column

    def label(self, row: int, width: int) -> str:
        """Return a row's name in at most `width` characters: in full, or its two tab letters."""
        if row == self.other_row:
            return "other" if width > SHORT_LABEL else "··"
        name = self.rows[row]
        if name in LIMB_TITLES:
            return LIMB_TITLES[name] if width > SHORT_LABEL else name[:width]
        voice = VOICES[name]
        return voice.title if len(voice.title) <= width else voice.tab[:width]


class BeatCursor:
    """The steps of the beat that began last. Times are seconds on the screen's clock.

    It never runs into the next beat before that is announced, however late the announcement.
    """

    def __init__(self) -> None:
        self._columns: tuple[int, ...] = ()
        self._moments: list[float] = []

    def begin(self, columns: BarColumns, bar: Bar, beat: int, now: float, quarter_s: float) -> None:
        """Begin a beat of a bar (from 0) that moves at `quarter_s` seconds a quarter note."""
        start = bar.start + bar.meter.beat * beat
        inside = [
            (column, float(step - start))
            for column, step in enumerate(columns.beats)
            if start <= step < start + bar.meter.beat
        ]
        self._columns = tuple(column for column, _ in inside)
        self._moments = [now + after * quarter_s for _, after in inside]

    def stand(self) -> None:
        """Stay on the first step of the beat: a count-in counts, it does not play."""
        del self._moments[1:]

    def column(self, now: float) -> int | None:
        """Return the column the beat is on, None before the first beat."""
        index = bisect_right(self._moments, now) - 1
        return self._columns[max(0, index)] if self._columns else None

    def next_s(self, now: float) -> float | None:
        """Return the seconds until the next step of this beat, None when there is none."""
        index = bisect_right(self._moments, now)
        return self._moments[index] - now if index < len(self._moments) else None
