"""The bar being played, with what landed in it, and the bar that follows where there is room."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.screens import signs
from trainer.screens.widgets.written_grid import WrittenGrid, low, main_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.board import Board
    from trainer.screens.grid import BarLayout, Cell
    from trainer.screens.ink import Line


class BarGrid(WrittenGrid):
    """Draws one bar of the board; `look_at(bar, column)` says which, and where the beat stands."""

    can_focus = True

    def __init__(self, board: Board, *, id: str | None = None) -> None:
        super().__init__(board.grid, id=id)
        self.board = board
        self._rows: dict[object, tuple[object, list[Line]]] = {}
        self._cells: dict[object, tuple[object, Sequence[Line]]] = {}
        self._layouts: dict[tuple[int, int, int], BarLayout] = {}

    def look_at(self, bar: int, cursor: int | None, *, counting: bool = False) -> None:
        """Turn to a bar with the cursor on one of its columns, or without; hollow in a count-in."""
        self.bar, self.cursor, self.counting = bar, cursor, counting

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the bar's lines, and those of the next one as it is written where it fits."""
        shown = list(super().draw_lines(columns, rows))
        following = (self.bar + 1) % len(self.pattern_grid.bars)
        if following == self.bar:
            return shown
        room = rows - len(shown) - 2
        layout = low(self.layout_for(following, columns, room))
        if layout.height(self.pattern_grid.other_row + 1) > room:
            return shown
        heading = ((f"next: bar {following + 1}", "faint"),)
        return [*shown, (), heading, *self.bar_lines(following, layout)]

    def layout_for(self, bar: int, columns: int, rows: int) -> BarLayout:
        """Return how a bar fits, worked out once for each size."""
        place = (bar, columns, rows)
        if place not in self._layouts:
            self._layouts[place] = super().layout_for(*place)
        return self._layouts[place]

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
        return [
            signs.draw(face, size)
            if line == main
            else signs.draw_edge(face, size, above=line < main)
            for line in range(high)
        ]
