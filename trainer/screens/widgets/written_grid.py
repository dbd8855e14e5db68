"""A bar as it is written: a ruler of beats, voices down, steps across; cells are left open."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.screens import digits, signs
from trainer.screens.grid import LONG_LABEL, SHORT_LABEL, Cell
from trainer.screens.layout import lay_out, letter_rows, name_size
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.grid import PatternGrid
    from trainer.screens.ink import Line, Span
    from trainer.screens.layout import BarLayout


class WrittenGrid(Canvas):
    """Draws bars of a pattern's grid; subclasses draw the cells."""

    def __init__(self, grid: PatternGrid, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.pattern_grid = grid
        self.bar = 0
        self.cursor: int | None = None
        self.counting = False

    def cell_lines(self, cell: Cell, size: int, high: int) -> Sequence[Line]:
        """Return the `high` lines of a cell of `size` characters."""
        raise NotImplementedError

    def layout_for(self, bar: int, columns: int, rows: int) -> BarLayout:
        """Return how a bar fits into a window."""
        grid = self.pattern_grid
        return lay_out([grid.bars[bar]], grid.other_row + 1, columns, rows)[0]

    def shown(self, columns: int, rows: int) -> list[tuple[int, int, BarLayout]]:
        """Return the bars shown: the line each begins on, the bar, its layout."""
        return [(0, self.bar, self.layout_for(self.bar, columns, rows))]

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the rulers and rows of the bars shown, blank lines between them."""
        lines: list[Line] = []
        for top, bar, layout in self.shown(columns, rows):
            lines += [()] * (top - len(lines))
            lines += self.bar_lines(bar, layout, rows - top)
        return lines

    def bar_lines(self, bar: int, layout: BarLayout, room: int) -> list[Line]:
        """Return every line of a bar, a blank one between its parts.

        Where only some of its parts fit into the room, those are shown that the cursor is in.
        """
        lines: list[Line] = []
        for span in self._parts(layout, room):
            if lines:
                lines += [()] * layout.gap
            lines += self._ruler(layout, bar, span)
            for row in range(self.pattern_grid.other_row + 1):
                lines += self.row_lines(layout, bar, span, row)
        return lines

    def _parts(self, layout: BarLayout, room: int) -> tuple[tuple[int, int], ...]:
        """Return the parts of a bar to be shown: all, or the page with the cursor."""
        rows = self.pattern_grid.other_row + 1
        if layout.height(rows) <= room or len(layout.lines) == 1:
            return layout.lines
        count = max(1, (room + layout.gap) // (layout.line_height(rows) + layout.gap))
        first = layout.line_of(self.cursor or 0) // count * count
        return layout.lines[first : first + count]

    def _ruler(self, layout: BarLayout, bar: int, span: tuple[int, int]) -> list[Line]:
        """Return the ruler: beat numbers, a dot for each step between, and the cursor's mark."""
        counts = self.pattern_grid.bars[bar].counts
        several = len(self.pattern_grid.bars) > 1 and layout.label > SHORT_LABEL
        name = f"bar {bar + 1}" if several else ""
        rows = letter_rows(layout.ruler)
        main = main_line(rows)
        lines: list[list[Span]] = [
            [((name if line == main else "").ljust(layout.label + 1), "faint")]
            for line in range(rows)
        ]
        for column in range(*span):
            mark = str(counts[column]) if counts[column] else "·"
            ink = "strong" if counts[column] else "faint"
            if column == self.cursor and bar == self.bar:
                mark, ink = ("▽", "alert") if self.counting else ("▼", "cursor")
            for parts, text in zip(lines, _mark(mark, layout), strict=True):
                parts.append((text, ink))
        return [tuple(parts) for parts in lines]

    def row_lines(self, layout: BarLayout, bar: int, span: tuple[int, int], row: int) -> list[Line]:
        """Return a row's lines: its name, then its cells; the last row has one line alone."""
        other = row == self.pattern_grid.other_row
        high = 1 if other else layout.high
        ink = "faint" if other else "plain"
        lines: list[list[Span]] = [[(name, ink)] for name in self.name_lines(layout, row, high)]
        for column in range(*span):
            drawn = self.cell_lines(Cell(bar, column, row), layout.cell, high)
            for parts, line in zip(lines, drawn, strict=True):
                parts += line
        return [tuple(parts) for parts in lines]

    def name_lines(self, layout: BarLayout, row: int, high: int) -> list[str]:
        """Return a row's name on its lines: its tab letters in large over it where both fit."""
        words = self.pattern_grid.label(row, min(layout.label, LONG_LABEL))
        size = name_size(layout.letter)
        large = layout.letter and layout.label > SHORT_LABEL and high > letter_rows(size)
        name = self.pattern_grid.rows[row] if large else ""
        told = [words]
        if name in VOICES:
            told = [*digits.larger(VOICES[name].tab, size), words]
        top = (high - len(told)) // 2 if name in VOICES else main_line(high)
        lines = [""] * top + told + [""] * (high - top - len(told))
        return [line.ljust(layout.label + 1) for line in lines]

    def cell_at(self, x: int, y: int) -> Cell | None:
        """Return the cell under a point of the window, if there is one."""
        rows = self.pattern_grid.other_row + 1
        for top, bar, layout in reversed(self.shown(*self.size)):
            if y >= top:
                high = layout.line_height(rows)
                part, line = divmod(y - top, high + layout.gap)
                row = layout.row_at(line, rows) if line < high else None
                if part >= len(layout.lines) or row is None or x <= layout.label:
                    return None
                first, end = layout.lines[part]
                column = first + (x - layout.label - 1) // layout.cell
                return Cell(bar, column, row) if column < end else None
        return None


def main_line(high: int) -> int:
    """Return which of a row's lines holds the letters."""
    return (high - 1) // 2


@lru_cache(64)
def low(layout: BarLayout) -> BarLayout:
    """Return a layout with rows of one line."""
    return replace(layout, high=1, letter=0, ruler=0)


@lru_cache(256)
def _mark(mark: str, layout: BarLayout) -> tuple[str, ...]:
    """Return a mark of the ruler, as wide as a cell and as high as the ruler."""
    rows, size = letter_rows(layout.ruler), layout.ruler
    if size and mark.isdigit():
        before = (layout.cell - 1 - len(digits.larger(mark, size)[0])) // 2
        return tuple(
            (" " * before + row).ljust(layout.cell)[: layout.cell]
            for row in digits.larger(mark, size)
        )
    before = signs.middle(layout.cell)
    shown = (" " * before + mark).ljust(layout.cell)[: layout.cell]
    return tuple(shown if row == main_line(rows) else " " * layout.cell for row in range(rows))
