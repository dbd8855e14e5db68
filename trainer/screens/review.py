"""Going through a judged take: the moment looked at, the part counted, and what each cell holds.

Keeps no clock: whoever shows it says how far time has moved. All counting is done by
`trainer.measure.hit_map`; this chooses what is counted and gathers it by cell.
"""

from __future__ import annotations

from collections import Counter
from math import inf
from typing import TYPE_CHECKING

from trainer.measure.hit_map import cell_figures, landed, note_counts, part
from trainer.practice.events import HitJudged
from trainer.screens.board import Board, beside
from trainer.screens.timeline import Timeline
from trainer.screens.told_again import tell

if TYPE_CHECKING:
    from trainer.measure.hit_map import CellFigures, NoteCounts
    from trainer.practice.events import TargetMissed
    from trainer.practice.outcomes import Judged
    from trainer.screens.grid import Cell
    from trainer.screens.told_again import Told

EDGES_MS = (-40.0, -25.0, -10.0, 0.0, 10.0, 25.0, 40.0)
"""Bins of the cells' small distributions; 10 and 25 ms are also the borders of the live signs."""

FINE_EDGES_MS = tuple(float(edge) for edge in range(-45, 50, 10))
"""Bins of the distribution of the cell under the cursor."""


class Review:
    """A judged take at a moment; `whole` counts the session up to it, else the pass alone."""

    def __init__(self, judged: Judged) -> None:
        self.judged = judged
        self.pattern = judged.course.pattern
        self.timeline = Timeline(judged.course)
        self.time_s = self.timeline.end_s
        self.whole = True
        self.by_limb = False
        self.looked_at: int | None = 0
        self._landed = landed(judged)
        told = tell(judged)
        self._beside = [one for one in told if beside(one[1])]
        self._of_row: dict[int, list[Told]] = {}
        for moment, event in told:
            self._of_row.setdefault(event.pass_index, []).append((moment, event))
        self.refresh()

    @property
    def row(self) -> int:
        """The pass looked at, counted from 0 in this take."""
        return self.timeline.at(self.time_s).row

    @property
    def bar(self) -> int:
        """The bar shown: the one being played, or the one the player turned to."""
        return self.timeline.at(self.time_s).bar if self.looked_at is None else self.looked_at

    @property
    def at_end(self) -> bool:
        """True when time has run out."""
        return self.time_s >= self.timeline.end_s

    def move_to(self, time_s: float) -> None:
        """Go to a moment; the bar shown follows, and at the end it is the first one again."""
        self.time_s = min(max(time_s, self.timeline.start_s), self.timeline.end_s)
        self.looked_at = 0 if self.at_end else None
        self.refresh()

    def turn(self, count: int) -> None:
        """Look at another bar of the pattern without moving in time."""
        self.looked_at = (self.bar + count) % len(self.pattern.bars)

    def refresh(self) -> None:
        """Count again after the moment, the part or the rows changed."""
        until = inf if self.at_end else self.time_s
        row = None if self.whole else self.row
        self._which = part(self._landed, until_s=until, row=row)
        self.counts: NoteCounts = note_counts(self._landed, self._which, EDGES_MS)
        self.board = Board(self.pattern, by_limb=self.by_limb)
        self.strays: dict[Cell, Counter[str]] = {}
        for moment, event in self._beside if row is None else self._of_row.get(row, ()):
            if moment <= until:
                self._place(event)

    def _place(self, event: HitJudged | TargetMissed) -> None:
        """Keep what landed beside the written strokes, by cell; of one pass also the marks."""
        if not self.whole:
            self.board.hear(event)
        if isinstance(event, HitJudged) and (cell := self.board.stray_cell(event)) is not None:
            self.strays.setdefault(cell, Counter())[event.outcome] += 1

    def main_notes(self, cell: Cell) -> list[int]:
        """Return the main strokes written in a cell, as indexes into the pattern's notes."""
        notes = self.board.grid.notes.get(cell, ())
        return [index for index in notes if not self.pattern.notes[index].grace]

    def figures(self, cell: Cell) -> CellFigures:
        """Return all about one cell."""
        return cell_figures(self._landed, self._which, self.main_notes(cell), FINE_EDGES_MS)
