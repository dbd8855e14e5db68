"""How a bar of the written grid fits into a window: its lines, and the size of cells and letters.

Arithmetic only; nothing here knows a terminal or a clock. Everything grows together: where the
window has room for letters of several rows, the ruler and the names of the rows grow with them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.show.grid import LONG_LABEL, SHORT_LABEL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.show.grid import BarColumns

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
    """How a bar fits into a window: lines of columns, each cell `cell` wide and `high` lines high.

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
    dense = {bar.counts: bar for bar in bars}.values()
    most = max(sum(map(bool, bar.counts)) for bar in dense)
    best = worst = None
    for count in range(1, most + 1):
        broken = [_broken(bar, count) for bar in dense]
        columns = max(map(_widest, broken))
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
        cell = max(1, min(widest, (width - self.label - 1) // _widest(lines)))
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


def _widest(lines: tuple[tuple[int, int], ...]) -> int:
    return max(end - first for first, end in lines)


def _broken(bar: BarColumns, count: int) -> tuple[tuple[int, int], ...]:
    """Break a bar into `count` lines of about as many beats each."""
    starts = [column for column, number in enumerate(bar.counts) if number]
    share = -(-len(starts) // count)
    firsts = starts[::share]
    return tuple(zip(firsts, [*firsts[1:], len(bar.beats)], strict=True))
