"""The written grid: its bars, columns, rows and cells, the cursor over them, and how a bar fits.

Arithmetic only, without a terminal or a clock. A bar's columns are its steps, its rows are the
pattern's voices from cymbals down to feet. One row more, under the voices, is for pads the pattern
never uses and notes the kit does not know. Whoever shows the cursor passes the time in seconds.

Lines, cells and letters grow together: where the window has room for letters of several rows, the
ruler and the names of the rows grow with them.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import gcd, lcm
from typing import TYPE_CHECKING, NamedTuple

from trainer.kit.voices import ROW, VOICES
from trainer.pattern.as_played import bar_beats, beat_length
from trainer.pattern.model import LIMB_NAMES, LIMB_UNKNOWN, bar_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.model import Bar, Note, Pattern


MOST_EVEN_COLUMNS = 32
"""A bar is cut into even steps up to this many; beyond, only the steps that are written remain."""

UNITS = 64
"""Units that a bar of written steps alone is spaced by: each step is as wide as it is long."""

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

    `counts` runs parallel to `beats`: the number of the beat that begins there (from 1),
    or 0 between beats; so does `units`: how long each step is beside the others.
    """

    beats: tuple[Fraction, ...]
    counts: tuple[int, ...]
    units: tuple[int, ...]

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
    size = beat_length(pattern, meter)
    counted = {bar.start + size * at: at + 1 for at in range(bar_beats(pattern, meter))}
    written = {note.beat for note in pattern.notes if bar.start <= note.beat < bar.end}
    places = sorted(written | set(counted))
    step = _common_step([place - bar.start for place in places] + [meter.length])
    even = int(meter.length / step)
    if even <= MOST_EVEN_COLUMNS:
        places = [bar.start + step * index for index in range(even)]
    lengths = [end - start for start, end in pairwise([*places, bar.end])]
    unit = max(min(lengths), meter.length / UNITS)
    return BarColumns(
        tuple(places),
        tuple(counted.get(place, 0) for place in places),
        tuple(max(1, round(length / unit)) for length in lengths),
    )


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
            return note.written_limb.value if note.written_limb else LIMB_UNKNOWN
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


ROOMY = 4
"""Characters a cell likes to have: its letter, both sides, and one for what else lands."""

WIDEST = 9
"""Characters, for each size of its letter, beyond which a cell only moves its neighbours apart."""

TALLEST = 3
"""Lines beyond which a row of small letters only moves its neighbours apart."""

LARGEST = 6
"""The largest size of a letter: its dots are this many characters wide."""

DOTS_ACROSS, DOTS_DOWN = 3, 5
"""Dots of a letter of size 1: a dot is a character wide and half a character high."""

MOST_LINES = 4
"""Lines that a bar is broken into at most, unless it is too wide even so."""

LIKED = (1, ROOMY)
"""Worth that more lines would not better: a large letter in a roomy cell."""


@dataclass(frozen=True, slots=True)
class BarLayout:
    """How a bar fits into a window: lines of columns, `cell` wide for each unit, `high` lines high.

    `lines` holds, for each line, its first column and the one after its last; between two of them
    are `gap` blank rows. The last row, for everything else, is a single line high. `letter` and
    `ruler` are the sizes of the letters in the cells and on the ruler, 0 for plain characters.
    """

    label: int
    cell: int
    high: int
    gap: int
    lines: tuple[tuple[int, int], ...]
    letter: int = 0
    ruler: int = 0

    def line_of(self, column: int) -> int:
        """Return which line holds a column."""
        return next(n for n, (_, end) in enumerate(self.lines) if column < end)

    def line_height(self, rows: int) -> int:
        """Return how many terminal rows a line takes with its ruler."""
        return letter_rows(self.ruler) + (rows - 1) * self.high + 1

    def height(self, rows: int) -> int:
        """Return how many terminal rows the bar takes with its rulers."""
        return len(self.lines) * (self.line_height(rows) + self.gap) - self.gap

    def row_at(self, line: int, rows: int) -> int | None:
        """Return the row at a terminal row of a line (0 is its first), None on the ruler."""
        below = line - letter_rows(self.ruler)
        return None if below < 0 else min(below // self.high, rows - 1)


def letter_rows(size: int) -> int:
    """Return the terminal rows of a letter of some size."""
    return max(1, -(-DOTS_DOWN * size // 2))


def letter_columns(size: int) -> int:
    """Return the terminal columns of a letter of some size."""
    return max(1, DOTS_ACROSS * size)


def name_size(letter: int) -> int:
    """Return the size of a row's two letters beside letters of some size."""
    return max(1, letter - 1)


def _label(letter: int) -> int:
    """Return the columns of the names of the rows: words, or two large letters where wider."""
    return max(LONG_LABEL, 2 * letter_columns(name_size(letter)) + name_size(letter))


NAMED = (*((size, _label(size)) for size in range(LARGEST, 0, -1)), (1, SHORT_LABEL))
"""What is tried in turn: sizes of letters with the columns for names beside them.

The smallest large letters gain more for the eye than names in full, which their order shows too.
"""


def letter_size(cell: int, high: int) -> int:
    """Return the largest letter that a cell has room for with a side left and right, else 0."""
    for size in range(LARGEST, 0, -1):
        if cell >= letter_columns(size) + 2 * size + 1 and high >= letter_rows(size):
            return size
    return 0


def lay_out(
    bars: Sequence[BarColumns], rows: int, width: int, height: int, tallest: int | None = None
) -> tuple[BarLayout, ...]:
    """Return the layouts of bars that are shown in turn in a window of `width` by `height`.

    They differ in the width of their cells alone, so that nothing jumps from bar to bar. `rows`
    counts the row for everything else too. Bars too dense for large letters or roomy cells break
    at a beat into up to four lines, as far as the height allows, into more only where they would
    be too wide even so; those are shown in parts. `tallest` is the height of a row beyond which it
    gains nothing, for those who draw something else than letters.
    """
    dense = {(bar.counts, bar.units): bar for bar in bars}.values()
    most = max(sum(map(bool, bar.counts)) for bar in dense)
    best = worst = None
    for count in range(1, most + 1):
        broken = [_broken(bar, count) for bar in dense]
        columns = max(_widest(*pair) for pair in zip(dense, broken, strict=True))
        fitted = _fit(max(map(len, broken)), columns, rows - 1, width, height, tallest)
        worst = replace(fitted, count=count)
        whole = columns <= width - SHORT_LABEL - 1
        if whole and (best is None or (fitted.fits and fitted.worth > best.worth)):
            best = worst
        if best and (count >= MOST_LINES or fitted.worth >= LIKED):
            break
    found = best or worst
    assert found is not None
    return tuple(found.layout(bar, width) for bar in bars)


@dataclass(frozen=True, slots=True)
class _Lines:
    """What the bars have in common when broken into `count` lines; `fits` in height."""

    label: int
    cell: int
    high: int
    gap: int
    letter: int
    ruler: int
    fits: bool
    count: int = 1

    @property
    def worth(self) -> tuple[int, int]:
        """What is gained by breaking bars into more lines: large letters, else roomy cells."""
        return min(self.letter, 1), min(self.cell, ROOMY)

    def layout(self, bar: BarColumns, width: int) -> BarLayout:
        """Return the layout of one of the bars."""
        lines = _broken(bar, self.count)
        widest = WIDEST * max(1, self.letter)
        cell = max(1, min(widest, (width - self.label - 1) // _widest(bar, lines)))
        return BarLayout(self.label, cell, self.high, self.gap, lines, self.letter, self.ruler)


def _fit(
    lines: int, columns: int, voices: int, width: int, height: int, tallest: int | None
) -> _Lines:
    """Return the largest letters and cells for so many lines, columns on each, and voices."""
    voices = max(1, voices)
    gap = int(lines * (3 + voices) - 1 <= height)
    spare = (height - gap * (lines - 1)) // lines
    for letter, label in () if tallest else NAMED:
        ruler = letter - 1
        cell = (width - label - 1) // columns
        high = (spare - letter_rows(ruler) - 1) // voices
        if letter_size(cell, high) >= letter:
            # Higher than this a row would hold a larger letter, had the cell the width for it.
            high = min(high, letter_rows(letter + 1) - 1)
            return _Lines(label, cell, high, gap, letter, ruler, fits=True)
    roomy = (width - LONG_LABEL - 1) // columns >= ROOMY
    label = LONG_LABEL if roomy else SHORT_LABEL
    high = (spare - 2) // voices
    cell = max(1, (width - label - 1) // columns)
    return _Lines(label, cell, max(1, min(tallest or TALLEST, high)), gap, 0, 0, fits=high > 0)


def _widest(bar: BarColumns, lines: tuple[tuple[int, int], ...]) -> int:
    """Return the units of the longest line of a bar."""
    return max(sum(bar.units[first:end]) for first, end in lines)


def _broken(bar: BarColumns, count: int) -> tuple[tuple[int, int], ...]:
    """Break a bar into `count` lines of about as many beats each."""
    starts = [column for column, number in enumerate(bar.counts) if number]
    share = -(-len(starts) // count)
    firsts = starts[::share]
    return tuple(zip(firsts, [*firsts[1:], len(bar.beats)], strict=True))
