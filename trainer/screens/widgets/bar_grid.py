"""A bar on the grid: as it is written, and being played with what landed in it.

A ruler of beats, voices down, steps across. The bar that follows is shown where there is room.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import accumulate
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.screens.widgets.canvas import Canvas
from trainer.show import drawing, signs
from trainer.show.grid import (
    LONG_LABEL,
    ROOMY,
    SHORT_LABEL,
    Cell,
    lay_out,
    letter_rows,
    letter_size,
    name_size,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.show.board import Board
    from trainer.show.grid import BarLayout, PatternGrid
    from trainer.show.ink import Line, Span


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
            width = layout.cell * self.pattern_grid.bars[bar].units[column]
            for parts, text in zip(lines, _ruler_mark(mark, layout, width), strict=True):
                parts.append((text, ink))
        return [tuple(parts) for parts in lines]

    def row_lines(self, layout: BarLayout, bar: int, span: tuple[int, int], row: int) -> list[Line]:
        """Return a row's lines: its name, then its cells; the last row has one line alone."""
        other = row == self.pattern_grid.other_row
        high = 1 if other else layout.high
        ink = "faint" if other else "plain"
        lines: list[list[Span]] = [[(name, ink)] for name in self.name_lines(layout, row, high)]
        units = self.pattern_grid.bars[bar].units
        for column in range(*span):
            width = layout.cell * units[column]
            size = layout.cell if layout.letter else min(width, max(layout.cell, ROOMY + 1))
            drawn = self.cell_lines(Cell(bar, column, row), size, high)
            for parts, line in zip(lines, drawn, strict=True):
                parts += [*line, (" " * (width - size), "plain")] if width > size else line
        return [tuple(parts) for parts in lines]

    def name_lines(self, layout: BarLayout, row: int, high: int) -> list[str]:
        """Return a row's name on its lines: its tab letters in large over it where both fit."""
        words = self.pattern_grid.label(row, min(layout.label, LONG_LABEL))
        size = name_size(layout.letter)
        large = layout.letter and layout.label > SHORT_LABEL and high > letter_rows(size)
        name = self.pattern_grid.rows[row] if large else ""
        reported = [words]
        if name in VOICES:
            reported = [*drawing.large_letters(VOICES[name].tab, size), words]
        top = (high - len(reported)) // 2 if name in VOICES else main_line(high)
        lines = [""] * top + reported + [""] * (high - top - len(reported))
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
                units = self.pattern_grid.bars[bar].units[first:end]
                ends = accumulate(layout.cell * one for one in units)
                passed = sum(right <= x - layout.label - 1 for right in ends)
                return Cell(bar, first + passed, row) if first + passed < end else None
        return None


def main_line(high: int) -> int:
    """Return which of a row's lines holds the letters."""
    return (high - 1) // 2


@lru_cache(64)
def one_line_rows(layout: BarLayout) -> BarLayout:
    """Return a layout with rows of one line."""
    return replace(layout, high=1, letter=0, ruler=0)


@lru_cache(256)
def _ruler_mark(mark: str, layout: BarLayout, width: int) -> tuple[str, ...]:
    """Return a mark of the ruler, as wide as its step and as high as the ruler."""
    rows, size = letter_rows(layout.ruler), layout.ruler
    if size and mark.isdigit():
        before = (layout.cell - 1 - len(drawing.large_letters(mark, size)[0])) // 2
        return tuple(
            (" " * before + row).ljust(width)[:width] for row in drawing.large_letters(mark, size)
        )
    before = signs.columns_before_letter(min(width, max(layout.cell, ROOMY + 1)))
    shown = (" " * before + mark).ljust(width)[:width]
    return tuple(shown if row == main_line(rows) else " " * width for row in range(rows))


class BarGrid(WrittenGrid):
    """Draws one bar of the board; `look_at(bar, column)` says which, and where the beat is."""

    can_focus = True

    def __init__(self, board: Board, *, id: str | None = None) -> None:
        super().__init__(board.grid, id=id)
        self.board = board
        self._rows: dict[object, tuple[object, list[Line]]] = {}
        self._cells: dict[object, tuple[object, Sequence[Line]]] = {}
        self._layouts: dict[tuple[int, int], tuple[BarLayout, ...]] = {}

    def look_at(self, bar: int, cursor: int | None, *, counting: bool = False) -> None:
        """Turn to a bar with the cursor on one of its columns, or without; hollow in a count-in."""
        self.bar, self.cursor, self.counting = bar, cursor, counting

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the bar's lines, and those of the next ones as they are written."""
        shown = list(super().draw_lines(columns, rows))
        if len(shown) > rows > 1:
            left = f"and {len(shown) - rows + 1} lines more: make the window higher"
            return [*shown[: rows - 1], ((left, "alert"),)]
        return [*shown, *self._following(columns, rows - len(shown))]

    def _following(self, columns: int, room: int) -> list[Line]:
        """Return the bars to come as they are written, as many as there is room for."""
        lines: list[Line] = []
        count = len(self.pattern_grid.bars)
        for ahead in range(1, count):
            bar = (self.bar + ahead) % count
            left = room - len(lines) - (2 if ahead == 1 else 1)
            layout = one_line_rows(self.layout_for(bar, columns, room))
            if layout.height(self.pattern_grid.other_row + 1) > left:
                break
            heading = ((f"next: bar {bar + 1}", "faint"),)
            lines += [(), heading] if ahead == 1 else [()]
            lines += self.bar_lines(bar, layout, left)
        return lines

    def layout_for(self, bar: int, columns: int, rows: int) -> BarLayout:
        """Return how a bar fits, all of them worked out together, once for each size."""
        grid = self.pattern_grid
        if (columns, rows) not in self._layouts:
            fitted = lay_out(grid.bars, grid.other_row + 1, columns, rows)
            self._layouts[columns, rows] = fitted
        return self._layouts[columns, rows][bar]

    def row_lines(self, layout: BarLayout, bar: int, span: tuple[int, int], row: int) -> list[Line]:
        """Return a row's lines, drawn again only when the row has changed."""
        place = (bar, row, span)
        state = (layout, self.filled(bar), self.board.changes[bar, row])
        kept = self._rows.get(place)
        if kept is None or kept[0] != state:
            kept = self._rows[place] = (state, super().row_lines(layout, bar, span, row))
        return kept[1]

    def filled(self, bar: int) -> bool:
        """Return whether a bar shows what landed; the bar to come shows only what is written."""
        return bar == self.bar

    def cell_lines(self, cell: Cell, size: int, high: int) -> Sequence[Line]:
        """Return a cell, drawn again only when it has changed."""
        now = self.filled(cell.bar)
        state = (size, high, self.board.changes[cell])
        kept = self._cells.get((cell, now))
        if kept is None or kept[0] != state:
            drawn = self.draw_cell(cell, size, high, now=now)
            kept = self._cells[cell, now] = (state, drawn)
        return kept[1]

    def draw_cell(self, cell: Cell, size: int, high: int, *, now: bool) -> Sequence[Line]:
        """Return what became of a cell on the line of letters, blocks above and below.

        Where it is not shown `now`, the cell is as it is written.
        """
        board = self.board
        strays = tuple(board.strays.get(cell, {}).values()) if now else ()
        main = main_line(high)
        if cell.row == board.grid.other_row:
            blank = ((" " * size, "plain"),)
            row = signs.draw_other_cell(strays, size)
            return [row if line == main else blank for line in range(high)]
        indexes = board.grid.notes.get(cell, ())
        marks = [board.marks[i] for i in indexes if i in board.marks] if now else []
        face = signs.cell_face([board.pattern.notes[i] for i in indexes], marks, strays, size)
        if letter := letter_size(size, high):
            return signs.draw_large_cell(face, size, high, letter)
        return [
            signs.draw_small_cell(face, size)
            if line == main
            else signs.draw_cell_edge(face, size, above=line < main)
            for line in range(high)
        ]
