"""How the strokes of one cell spread in time: columns from 50 ms early to 50 ms late."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.screens.counted import FINE_EDGES_MS
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.hit_map import CellFigures
    from trainer.screens.ink import Line

HEIGHT = 8
BAR = 3
BLOCKS = " ▁▂▃▄▅▆▇█"


class Spread(Canvas):
    """Draws the distribution of a cell, over that of another session where there is one."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.figures: CellFigures | None = None
        self.below: CellFigures | None = None

    def show(self, figures: CellFigures, below: CellFigures | None = None) -> None:
        """Show the distribution of these figures, and of those of the other session."""
        self.figures, self.below = figures, below
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the columns from the top down, the axis, and what it means."""
        if self.figures is None:
            return []
        if self.below is None:
            return _graph("strokes by lateness", self.figures.histogram)
        first = _graph("strokes by lateness, here", self.figures.histogram)
        return [*first, (), *_graph("in the other session", self.below.histogram)]


def _graph(heading: str, counts: Sequence[int]) -> list[Line]:
    """Return one distribution with its axis."""
    most = max(1, *counts)
    heights = [8 * HEIGHT * count / most for count in counts]
    half = len(FINE_EDGES_MS) // 2
    lines: list[Line] = [((heading, "faint"),), ()]
    for level in range(HEIGHT - 1, -1, -1):
        cells = [BLOCKS[max(0, min(8, round(height - 8 * level)))] * BAR for height in heights]
        early, late = "".join(cells[:half]), "".join(cells[half + 1 :])
        lines.append(((early, "early"), (cells[half], "centre"), (late, "late")))
    strokes = "1 stroke" if sum(counts) == 1 else f"{sum(counts)} strokes"
    return [
        *lines,
        (("─" * half * BAR + "─┴─" + "─" * half * BAR, "faint"),),
        (("50 early".ljust(half * BAR + 1) + "0" + "late 50".rjust(half * BAR + 1), "faint"),),
        ((f"ms; highest column: {max(counts)} of {strokes}", "plain"),),
    ]
