"""A bar as it is written: a ruler of beats, voices down, steps across; cells are left open."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.screens import signs
from trainer.screens.grid import SHORT_LABEL, Cell, lay_out
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.grid import BarLayout, PatternGrid
    from trainer.screens.ink import Line, Span


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
        return lay_out(self.pattern_grid.bars[bar], self.pattern_grid.other_row + 1, columns, rows)

    def shown(self, columns: int, rows: int) -> list[tuple[int, int, BarLayout]]:
        """Return the bars shown: the line each begins on, the bar, its layout."""
        return [(0, self.bar, self.layout_for(self.bar, columns, rows))]

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the rulers and rows of the bars shown, blank lines between them."""
        lines: list[Line] = []
        for top, bar, layout in self.shown(columns, rows):
            lines += [()] * (top - len(lines))
            lines += self.bar_lines(bar, layout)
        return lines

    def bar_lines(self, bar: int, layout: BarLayout) -> list[Line]:
        """Return every line of a bar, a blank one between its parts."""
        lines: list[Line] = []
        for span in layout.lines:
            if lines:
                lines += [()] * layout.gap
            lines.append(self._ruler(layout, bar, span))
            for row in range(self.pattern_grid.other_row + 1):
                lines += self.row_lines(layout, bar, span, row)
        return lines

    def _ruler(self, layout: BarLayout, bar: int, span: tuple[int, int]) -> Line:
        """Return the ruler: beat numbers, a dot for each step between, and the cursor's mark."""
        counts = self.pattern_grid.bars[bar].counts
        several = len(self.pattern_grid.bars) > 1 and layout.label > SHORT_LABEL
        name = f"bar {bar + 1}" if several else ""
        parts = [(name.ljust(layout.label + 1), "faint")]
        before = " " * signs.middle(layout.cell)
        for column in range(*span):
            mark = str(counts[column]) if counts[column] else "·"
            ink = "strong" if counts[column] else "faint"
            if column == self.cursor and bar == self.bar:
                mark, ink = ("▽", "alert") if self.counting else ("▼", "cursor")
            parts.append(((before + mark).ljust(layout.cell)[: layout.cell], ink))
        return tuple(parts)

    def row_lines(self, layout: BarLayout, bar: int, span: tuple[int, int], row: int) -> list[Line]:
        """Return one row's lines: its name, then its cells."""
        name = self.pattern_grid.label(row, layout.label)
        ink = "faint" if row == self.pattern_grid.other_row else "plain"
        main = main_line(layout.high)
        lines: list[list[Span]] = [
            [((name if line == main else "").ljust(layout.label + 1), ink)]
            for line in range(layout.high)
        ]
        for column in range(*span):
            drawn = self.cell_lines(Cell(bar, column, row), layout.cell, layout.high)
            for parts, line in zip(lines, drawn, strict=True):
                parts += line
        return [tuple(parts) for parts in lines]

    def cell_at(self, x: int, y: int) -> Cell | None:
        """Return the cell under a point of the window, if there is one."""
        rows = self.pattern_grid.other_row + 1
        for top, bar, layout in reversed(self.shown(*self.size)):
            if y >= top:
                part, line = divmod(y - top, 1 + rows * layout.high + layout.gap)
                row = (line - 1) // layout.high
                if part >= len(layout.lines) or not 0 <= row < rows or x <= layout.label:
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
    return replace(layout, high=1)
