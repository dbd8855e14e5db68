"""The bar being played, as a written grid: a ruler of beats, the voices, and what landed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.screens import signs
from trainer.screens.grid import Cell, lay_out
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.board import Board
    from trainer.screens.grid import BarLayout
    from trainer.screens.ink import Line


class BarGrid(Canvas):
    """Draws one bar of the board; `show(bar, column)` says which, and where the beat stands."""

    can_focus = True

    def __init__(self, board: Board, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.board = board
        self.bar = 0
        self.cursor: int | None = None

    def show(self, bar: int, cursor: int | None) -> None:
        """Show a bar with the cursor on one of its columns, or without one."""
        self.bar, self.cursor = bar, cursor
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the rulers and rows of the bar, and of the next one where there is room."""
        shown = self._bar_lines(self.bar, columns, rows, self.cursor)
        following = (self.bar + 1) % len(self.board.grid.bars)
        if following != self.bar:
            room = rows - len(shown) - 2
            after = self._bar_lines(following, columns, room, None, small=True)
            if len(after) <= room:
                return [*shown, (), ((f"next: bar {following + 1}", "faint"),), *after]
        return shown

    def _bar_lines(
        self, bar: int, columns: int, rows: int, cursor: int | None, small: bool = False
    ) -> list[Line]:
        """Return one bar's lines; a small one is drawn as written, one line a voice."""
        grid = self.board.grid
        names = grid.other_row + (not small)
        layout = lay_out(grid.bars[bar], names, columns, rows)
        high = 1 if small else layout.high
        lines: list[Line] = []
        for span in layout.lines:
            if lines:
                lines.append(())
            lines.append(self._ruler(layout, bar, span, cursor))
            for row in range(names):
                above = (high - 1) // 2
                lines += [()] * above
                lines.append(self._row(layout, bar, span, row, small))
                lines += [()] * (high - 1 - above)
        return lines

    def _ruler(
        self, layout: BarLayout, bar: int, span: tuple[int, int], cursor: int | None
    ) -> Line:
        """Return the ruler: beat numbers, a dot for each step between, and the cursor's mark."""
        counts = self.board.grid.bars[bar].counts
        parts = [(" " * (layout.label + 1), "plain")]
        for column in range(*span):
            mark = str(counts[column]) if counts[column] else "·"
            ink = "strong" if counts[column] else "faint"
            if column == cursor:
                mark, ink = "▼", "cursor"
            parts.append((_centred(mark, layout.cell), ink))
        return tuple(parts)

    def _row(
        self, layout: BarLayout, bar: int, span: tuple[int, int], row: int, small: bool
    ) -> Line:
        """Return one voice's row: its name and its cells."""
        board = self.board
        name = board.grid.label(row, layout.label)
        other = row == board.grid.other_row
        parts = [(name.ljust(layout.label + 1), "faint" if other or small else "plain")]
        for column in range(*span):
            cell = Cell(bar, column, row)
            strays = () if small else tuple(board.strays.get(cell, {}).values())
            if other:
                parts += signs.draw_other(strays, layout.cell)
                continue
            indexes = board.grid.notes.get(cell, ())
            notes = [board.pattern.notes[index] for index in indexes]
            marks = [] if small else [board.marks[i] for i in indexes if i in board.marks]
            parts += signs.draw(notes, marks, strays, layout.cell)
        return tuple(parts)


def _centred(mark: str, size: int) -> str:
    """Put a ruler's mark over the letters of cells of this size."""
    before = (size - 2) // 2 if size > signs.NO_SPARE else (size - 1) // 2
    return (" " * before + mark).ljust(size)[:size]
