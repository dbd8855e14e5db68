"""What some passes of a judged take hold, by written note and by cell of the grid."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from trainer.measure.hit_map import cell_figures, landed, note_counts, part
from trainer.practice.events import HitJudged, TargetMissed
from trainer.practice.outcomes import EXTRA, WRONG_PAD
from trainer.screens.board import beside
from trainer.screens.timeline import Timeline
from trainer.screens.told_again import tell

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from trainer.measure.frame import Bools
    from trainer.measure.hit_map import CellFigures, Landed
    from trainer.practice.outcomes import Judged
    from trainer.screens.board import Board
    from trainer.screens.grid import Cell
    from trainer.screens.told_again import Told

EDGES_MS = (-40.0, -25.0, -10.0, 0.0, 10.0, 25.0, 40.0)
"""Bins of the cells' small distributions; 10 and 25 ms are also the borders of the live signs."""

FINE_EDGES_MS = tuple(float(edge) for edge in range(-45, 50, 10))
"""Bins of the distribution of the cell under the cursor."""


class Taken:
    """A judged take, gone through once: what landed, and every event in the order of time.

    `faults` are the missed strokes, wrong pads and strays among them.
    """

    def __init__(self, judged: Judged) -> None:
        self.judged = judged
        self.timeline = Timeline(judged.course)
        self.landed: Landed = landed(judged)
        told = tell(judged)
        self._beside = [one for one in told if beside(one[1])]
        self.faults = [one for one in told if _is_fault(one[1])]
        self._of_row: dict[int, list[Told]] = {}
        for one in told:
            self._of_row.setdefault(one[1].pass_index, []).append(one)

    def told(self, row: int, until_s: float) -> Iterator[Told]:
        """Give everything that was told of one pass up to a moment."""
        return (one for one in self._of_row.get(row, ()) if one[0] <= until_s)

    def strays(self, rows: Collection[int] | None, until_s: float) -> Iterator[HitJudged]:
        """Give the hits of some passes, or of all, that fell beside what is written."""
        for moment, event in self._beside:
            if moment > until_s:
                break
            if isinstance(event, HitJudged) and (rows is None or event.pass_index in rows):
                yield event


def _is_fault(event: HitJudged | TargetMissed) -> bool:
    """Return whether the player did something else than what is written."""
    return isinstance(event, TargetMissed) or event.outcome in (WRONG_PAD, EXTRA)


class Counted:
    """Some passes of a take (`rows`, None for all) up to a moment, counted.

    `counts` is by note of the pattern, `strays` by cell: what landed there besides, kind by kind.
    """

    def __init__(
        self, take: Taken, board: Board, rows: Collection[int] | None, until_s: float
    ) -> None:
        self.landed = take.landed
        self.which: Bools = part(take.landed, until_s=until_s, rows=rows)
        self.counts = note_counts(take.landed, self.which, EDGES_MS)
        self.strays: dict[Cell, Counter[str]] = {}
        for event in take.strays(rows, until_s):
            if (cell := board.stray_cell(event)) is not None:
                self.strays.setdefault(cell, Counter())[event.outcome] += 1

    def due(self, notes: Sequence[int]) -> int:
        """Return how many strokes of some notes were due."""
        counts, indexes = self.counts, list(notes)
        return sum(
            int(of[indexes].sum()) for of in (counts.played, counts.missed, counts.wrong_pad)
        )

    def sides(self, notes: Sequence[int]) -> tuple[int, int, int]:
        """Return how many strokes were early, on time (within 10 ms) and late."""
        counts = self.counts.histogram[list(notes)].sum(axis=0)
        early, late = EDGES_MS.index(-10.0) + 1, EDGES_MS.index(10.0) + 1
        parts = (counts[:early], counts[early:late], counts[late:])
        return tuple(int(part.sum()) for part in parts)  # type: ignore[return-value]

    def figures(self, notes: Sequence[int]) -> CellFigures:
        """Return all about some notes taken together."""
        return cell_figures(self.landed, self.which, list(notes), FINE_EDGES_MS)
