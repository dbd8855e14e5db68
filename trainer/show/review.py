"""Going through a judged take: the moment looked at, the part counted, and what each cell holds.

Keeps no clock: the screen says how far time has moved. Counting is done by `take.py`; this chooses
what is counted. Another take of the same pattern may be laid under it: that one is counted to its
end, and where one rung or pass is chosen, its passes at the same tempo.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from math import inf
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.measure.hit_map import cell_change
from trainer.practice.events import HitJudged
from trainer.show.board import Board
from trainer.show.grid import PatternGrid
from trainer.show.take import PassCounts, TakeEvents

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from trainer.actions.replay import OpenedSession
    from trainer.archive.session import RungResult
    from trainer.measure.hit_map import CellChange, CellFigures
    from trainer.practice.outcomes import Judged
    from trainer.show.grid import Cell

WHOLE_SESSION, ONE_RUNG, ONE_PASS = "session", "rung", "pass"
"""What can be counted: everything, the passes of one rung, or one pass alone."""


EDGE_S = 1e-6
"""Moments closer than this are the same one."""


class Review:
    """A judged take at a moment; `part` says what of it is counted.

    `complete` is True where all of the part is counted and not only what was known by the moment.
    `other` is the take below this one, None where there is none.
    """

    def __init__(self, judged: Judged, rungs: Sequence[RungResult] = ()) -> None:
        self.take = TakeEvents(judged)
        self.pattern = judged.course.pattern
        self.passes = judged.course.passes
        self.timeline = self.take.timeline
        self.rungs = {one.index: one for one in rungs}
        self.time_s = self.timeline.end_s
        self.part = WHOLE_SESSION
        self.complete = True
        self.by_limb = False
        self._grids: dict[bool, PatternGrid] = {}
        self.looked_at: int | None = 0
        self.other: TakeEvents | None = None
        self.other_name = ""
        self._changes: dict[object, CellChange] = {}
        self.refresh()

    @property
    def parts(self) -> tuple[str, ...]:
        """What can be counted here: rungs only where there are several."""
        several = len({one.rung for one in self.passes}) > 1
        return (WHOLE_SESSION, ONE_RUNG, ONE_PASS) if several else (WHOLE_SESSION, ONE_PASS)

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

    @property
    def as_played(self) -> bool:
        """True where cells look as they did while playing: one pass, and no other take."""
        return self.part == ONE_PASS and self.other is None

    def move_to(self, time_s: float) -> None:
        """Go to a moment; the bar shown follows, and at the end it is the first one again."""
        self.time_s = min(max(time_s, self.timeline.start_s), self.timeline.end_s)
        self.complete = self.at_end
        self.looked_at = 0 if self.at_end else None
        self.refresh()

    def turn(self, count: int) -> None:
        """Look at another bar of the pattern without moving in time."""
        self.looked_at = (self.bar + count) % len(self.pattern.bars)

    def count_part(self, part: str, *, complete: bool) -> None:
        """Count another part: all of it, or what was known of it by the moment."""
        self.part = part
        self.complete = complete or self.at_end
        self.looked_at = self.bar if self.complete else None
        self.refresh()

    def firsts(self, part: str) -> list[int]:
        """Return the passes (rows) at which a rung begins, or all of them."""
        rungs = [one.rung for one in self.passes]
        begin = [row for row, rung in enumerate(rungs) if row == 0 or rung != rungs[row - 1]]
        return begin if part == ONE_RUNG else list(range(len(rungs)))

    def step(self, count: int) -> None:
        """Go to another pass, or rung where rungs are counted, and count all of it at once.

        Where the whole session is counted this is a step in time.
        """
        firsts = self.firsts(self.part)
        at = bisect_right(firsts, self.row) - 1 + count
        if self.part == WHOLE_SESSION and at >= len(firsts):
            self.move_to(self.timeline.end_s)
        else:
            self._go(firsts[min(max(0, at), len(firsts) - 1)])

    def go_to_fault(self, count: int) -> Cell | None:
        """Go to the next stroke missed, on a wrong pad or stray, or to the one before; its cell.

        Returns None, and stays, where there is none any more.
        """
        faults = self.take.faults
        moments = [moment for moment, _ in faults]
        after = bisect_right(moments, self.time_s + EDGE_S)
        at = after if count > 0 else bisect_left(moments, self.time_s - EDGE_S) - 1
        if not 0 <= at < len(faults):
            return None
        moment, event = faults[at]
        self.move_to(moment)
        if isinstance(event, HitJudged):
            return self.board.stray_cell(event)
        return self.board.grid.cell_of(event.note_index)

    def choose(self, part: str, number: int) -> None:
        """Count one rung or pass by its number from 1; BadInput where there is none."""
        firsts = self.firsts(part)
        if not 1 <= number <= len(firsts):
            raise BadInput(f"there is no {part} {number}", fix=f"choose 1 to {len(firsts)}")
        self.part = part
        self._go(firsts[number - 1])

    def _go(self, row: int) -> None:
        self.move_to(self.timeline.start_of(row))
        if self.part != WHOLE_SESSION:
            self.count_part(self.part, complete=True)

    def lay_over(self, other: Judged | None, name: str = "") -> None:
        """Lay this take over another one of the same pattern, or over none; else BadInput."""
        if other is not None and not same_pattern(self.take.judged, other):
            raise BadInput(
                "the other session has another pattern, or an older version of it",
                where=name,
                fix="choose a session of the same pattern",
            )
        self.other = TakeEvents(other) if other else None
        self._changes.clear()
        self.other_name = name
        self.refresh()

    def refresh(self) -> None:
        """Count again after the moment, the part, the rows or the other take changed."""
        until = inf if self.complete else self.time_s
        self.board = Board(self.pattern, self._grid(by_limb=self.by_limb))
        self.here = PassCounts(self.take, self.board, self._rows(), until)
        self.there: PassCounts | None = None
        if self.other is not None:
            self.there = PassCounts(self.other, self.board, self.other_rows(), inf)
        if self.as_played:
            for _, event in self.take.known(self.row, until):
                self.board.take_in(event)

    def _grid(self, *, by_limb: bool) -> PatternGrid:
        """Return the grid with its rows by voice or by limb, each laid out once."""
        if by_limb not in self._grids:
            self._grids[by_limb] = PatternGrid(self.pattern, by_limb=by_limb)
        return self._grids[by_limb]

    def _rows(self) -> Collection[int] | None:
        """Return which passes are counted, None for all."""
        if self.part == WHOLE_SESSION:
            return None
        if self.part == ONE_PASS:
            return (self.row,)
        rung = self.passes[self.row].rung
        return [row for row, one in enumerate(self.passes) if one.rung == rung]

    def other_rows(self) -> Collection[int] | None:
        """Return which passes of the other take are counted: all, or those at this tempo."""
        if self.other is None or self.part == WHOLE_SESSION:
            return None
        passes, tempo = self.other.judged.course.passes, self.passes[self.row].tempo
        return [row for row, one in enumerate(passes) if one.tempo == tempo]

    def main_notes(self, cell: Cell) -> list[int]:
        """Return the main strokes written in a cell, as indexes into the pattern's notes."""
        notes = self.board.grid.notes.get(cell, ())
        return [index for index in notes if not self.pattern.notes[index].grace]

    def figures(self, cell: Cell) -> CellFigures:
        """Return all about one cell."""
        return self.here.figures(self.main_notes(cell))

    def figures_below(self, cell: Cell) -> CellFigures | None:
        """Return all about one cell in the other take, None where there is none."""
        return None if self.there is None else self.there.figures(self.main_notes(cell))

    def strays(self, cell: Cell) -> Counter[str]:
        """Return what else landed in a cell, kind by kind."""
        return self.here.strays.get(cell, Counter())

    def strays_below(self, cell: Cell) -> Counter[str]:
        """Return what else landed there in the other take."""
        return self.there.strays.get(cell, Counter()) if self.there else Counter()

    def change(self, cell: Cell) -> CellChange | None:
        """Return what differs in a cell from the other take, None where there is none."""
        if self.there is None:
            return None
        here, there, notes = self.here, self.there, self.main_notes(cell)
        # Of one part the count of strokes due so far says which they are: time only adds to them.
        state = (
            tuple(notes),
            self.part,
            self.row if self.part != WHOLE_SESSION else 0,
            here.due(notes),
        )
        if state not in self._changes:
            pair = (here.landed, here.which), (there.landed, there.which)
            self._changes[state] = cell_change(*pair, notes)
        return self._changes[state]


def same_pattern(one: Judged, other: Judged) -> bool:
    """Return whether two takes are of the same bars and notes, so that they can be laid over."""
    first, second = one.course.pattern, other.course.pattern
    return first.bars == second.bars and first.notes == second.notes


def review_of(opened: OpenedSession) -> Review | None:
    """Return the review of a session as its request looks at it; None where there is no map of it.

    There is none where nothing is written, or where no bar was begun.
    """
    if not opened.has_map:
        return None
    review = Review(opened.take, opened.session.rungs)
    review.by_limb = opened.request.by_limb
    if opened.other is not None:
        review.lay_over(opened.other, opened.other_name)
    if opened.request.part is not None:
        review.choose(*opened.request.part)
    return review
