"""The bar being played, as a written grid: a ruler of beats, the voices, and what landed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.screens import signs
from trainer.screens.grid import Cell, lay_out
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.board import Board, Stray
    from trainer.screens.grid import BarLayout
    from trainer.screens.ink import Line, Span


class BarGrid(Canvas):
    """Draws one bar of the board; `show(bar, column)` says which, and where the beat stands."""

    can_focus = True

    def __init__(self, board: Board, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.board = board
        self.bar = 0
        self.cursor: int | None = None
        self.counting = False

    def show(self, bar: int, cursor: int | None, *, counting: bool = False) -> None:
        """Show a bar with the cursor on one of its columns, or without; hollow in a count-in."""
        self.bar, self.cursor, self.counting = bar, cursor, counting
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
        voices = grid.other_row + (not small)
        layout = lay_out(grid.bars[bar], voices, columns, rows)
        if small:
            layout = replace(layout, high=1)
        lines: list[Line] = []
        for span in layout.lines:
            if lines:
                lines.append(())
            lines.append(self._ruler(layout, bar, span, cursor))
            for row in range(voices):
                lines += self._row(layout, bar, span, row, small)
        return lines

    def _ruler(
        self, layout: BarLayout, bar: int, span: tuple[int, int], cursor: int | None
    ) -> Line:
        """Return the ruler: beat numbers, a dot for each step between, and the cursor's mark."""
        counts = self.board.grid.bars[bar].counts
        parts = [(" " * (layout.label + 1), "plain")]
        before = " " * signs.middle(layout.cell)
        for column in range(*span):
            mark = str(counts[column]) if counts[column] else "·"
            ink = "strong" if counts[column] else "faint"
            if column == cursor:
                mark, ink = ("▽", "alert") if self.counting else ("▼", "cursor")
            parts.append(((before + mark).ljust(layout.cell)[: layout.cell], ink))
        return tuple(parts)

    def _row(
        self, layout: BarLayout, bar: int, span: tuple[int, int], row: int, small: bool
    ) -> list[Line]:
        """Return one voice's lines: its name and cells, blocks above and below where high."""
        size, above = layout.cell, (layout.high - 1) // 2
        other = row == self.board.grid.other_row
        name = self.board.grid.label(row, layout.label)
        ink = "faint" if other or small else "plain"
        lines: list[list[Span]] = [
            [((name if line == above else "").ljust(layout.label + 1), ink)]
            for line in range(layout.high)
        ]
        for column in range(*span):
            cell = Cell(bar, column, row)
            strays = () if small else tuple(self.board.strays.get(cell, {}).values())
            if other:
                lines[above] += signs.draw_other(strays, size)
                continue
            face = self._face(cell, strays, size, small)
            for line, parts in enumerate(lines):
                if line == above:
                    parts += signs.draw(face, size)
                else:
                    parts += signs.draw_edge(face, size, above=line < above)
        return [tuple(parts) for parts in lines]

    def _face(self, cell: Cell, strays: Sequence[Stray], size: int, small: bool) -> signs.Face:
        """Return what a cell shows; of the bar to come only what is written."""
        board = self.board
        indexes = board.grid.notes.get(cell, ())
        marks = [] if small else [board.marks[i] for i in indexes if i in board.marks]
        return signs.face([board.pattern.notes[i] for i in indexes], marks, strays, size)
