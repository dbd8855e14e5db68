"""The bar being played, with what landed in it, and the bar that follows where there is room."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.screens import large_signs, signs
from trainer.screens.layout import lay_out, letter_size
from trainer.screens.widgets.written_grid import WrittenGrid, low, main_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.board import Board
    from trainer.screens.grid import Cell
    from trainer.screens.ink import Line
    from trainer.screens.layout import BarLayout


class BarGrid(WrittenGrid):
    """Draws one bar of the board; `look_at(bar, column)` says which, and where the beat stands."""

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
            layout = low(self.layout_for(bar, columns, room))
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
        """Return a row's lines, drawn anew only when the row has changed."""
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
        """Return a cell, drawn anew only when it has changed."""
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
            row = signs.draw_other(strays, size)
            return [row if line == main else blank for line in range(high)]
        indexes = board.grid.notes.get(cell, ())
        marks = [board.marks[i] for i in indexes if i in board.marks] if now else []
        face = signs.face([board.pattern.notes[i] for i in indexes], marks, strays, size)
        if letter := letter_size(size, high):
            return large_signs.draw(face, size, high, letter)
        return [
            signs.draw(face, size)
            if line == main
            else signs.draw_edge(face, size, above=line < main)
            for line in range(high)
        ]
