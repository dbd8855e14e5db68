"""How the strokes of one cell spread in time: columns from 50 ms early to 50 ms late."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.screens.review import FINE_EDGES_MS
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.hit_map import CellFigures
    from trainer.screens.ink import Line

HEIGHT = 8
BAR = 3
BLOCKS = " ▁▂▃▄▅▆▇█"


class Spread(Canvas):
    """Draws the distribution of a cell; `show` says of which."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.figures: CellFigures | None = None

    def show(self, figures: CellFigures) -> None:
        """Show the distribution of these figures."""
        self.figures = figures
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the columns from the top down, the axis, and what it means."""
        if self.figures is None:
            return []
        counts = self.figures.histogram
        most = max(1, *counts)
        heights = [8 * HEIGHT * count / most for count in counts]
        half = len(FINE_EDGES_MS) // 2
        lines: list[Line] = [(("strokes by lateness", "faint"),), ()]
        for level in range(HEIGHT - 1, -1, -1):
            cells = [BLOCKS[max(0, min(8, round(height - 8 * level)))] * BAR for height in heights]
            lines.append(
                (
                    ("".join(cells[:half]), "early"),
                    (cells[half], "centre"),
                    ("".join(cells[half + 1 :]), "late"),
                )
            )
        return [
            *lines,
            (("─" * half * BAR + "─┴─" + "─" * half * BAR, "faint"),),
            (("50 early".ljust(half * BAR + 1) + "0" + "late 50".rjust(half * BAR + 1), "faint"),),
            (("ms".center(len(counts) * BAR), "faint"),),
            (),
            ((f"highest column: {max(counts)} of {sum(counts)} strokes", "plain"),),
        ]
