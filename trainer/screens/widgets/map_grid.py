"""The hit map of one bar: of every cell how its strokes spread in time, what went wrong, the power.

Each cell has up to three lines, the one asked for first: a small distribution with early on the
left, on time in the middle and late on the right; the letter with what went wrong most often; the
mean power. Of one pass alone the cells look as they did live.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from trainer.practice.outcomes import PLAYED
from trainer.screens import signs
from trainer.screens.grid import Cell
from trainer.screens.ink import fit
from trainer.screens.messages import CellChosen
from trainer.screens.widgets.bar_grid import BarGrid
from trainer.screens.widgets.written_grid import main_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.events import Click

    from trainer.screens.ink import Line
    from trainer.screens.review import Review

VIEWS = ("time", "faults", "power")
"""What the first line of each cell can show."""

BLOCKS = " ▁▂▃▄▅▆▇█"


class MapGrid(BarGrid):
    """Draws the review's bar, and the cell that the player's cursor stands on."""

    def __init__(self, review: Review, *, id: str | None = None) -> None:
        super().__init__(review.board, id=id)
        self.review = review
        self.view = 0
        self.chosen = Cell(0, 0, 0)

    def refresh_map(self, cursor: int | None) -> None:
        """Draw the review as it stands now."""
        self.board = self.review.board
        self.pattern_grid = self.board.grid
        bar = self.review.bar
        columns = len(self.pattern_grid.bars[bar].beats)
        self.chosen = Cell(
            bar,
            min(self.chosen.column, columns - 1),
            min(self.chosen.row, self.pattern_grid.other_row),
        )
        self.show(bar, cursor)

    def move(self, right: int, down: int) -> None:
        """Move the player's cursor; it stays inside the bar."""
        columns = len(self.pattern_grid.bars[self.bar].beats)
        self.chosen = Cell(
            self.bar,
            (self.chosen.column + right) % columns,
            (self.chosen.row + down) % (self.pattern_grid.other_row + 1),
        )
        self.redraw()

    def on_click(self, event: Click) -> None:
        """Put the cursor on the cell that was clicked."""
        cell = self.cell_at(event.x, event.y)
        if cell is not None:
            self.chosen = cell
            self.redraw()
            self.post_message(CellChosen())

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the bar's lines; the bar to come has no place here."""
        return self.bar_lines(self.bar, self.layout_for(self.bar, columns, rows))

    def cell_lines(self, cell: Cell, size: int, high: int) -> Sequence[Line]:
        """Return a cell's lines, marked where the cursor stands."""
        lines = self._plain_lines(cell, size, high)
        if cell != self.chosen:
            return lines
        return [(("".join(text for text, _ in fit(line, size)), "chosen"),) for line in lines]

    def _plain_lines(self, cell: Cell, size: int, high: int) -> Sequence[Line]:
        if not self.review.whole:
            return super().cell_lines(cell, size, high)
        notes = self.review.main_notes(cell)
        if not notes:
            line = self._stray_line(cell, size)
            blank = ((" " * size, "plain"),)
            return [line if at == main_line(high) else blank for at in range(high)]
        lines = (
            self._time_line(notes, size),
            self._fault_line(cell, notes, size),
            self._power_line(notes, size),
        )
        turned = [*lines[self.view :], *lines[: self.view]]
        return [turned[at] if at < len(turned) else () for at in range(high)]

    def _stray_line(self, cell: Cell, size: int) -> Line:
        """Return a cell nothing is written in: the sign of what fell there, and how often."""
        found = self.review.strays.get(cell)
        other = cell.row == self.pattern_grid.other_row
        before = " " * signs.middle(size)
        if not found:
            return (((before + (" " if other else "·")).ljust(size)[:size], "faint"),)
        outcome, _ = found.most_common(1)[0]
        text = signs.BESIDE.get(outcome, "+") + str(found.total())
        return ((text[: max(1, size - 1)].rjust(max(1, size - 1)).ljust(size), "wrong"),)

    def _time_line(self, notes: Sequence[int], size: int) -> Line:
        """Return the small distribution: heights are shares of all strokes that were due."""
        counts = self.review.counts
        bins = gathered(counts.histogram[list(notes)].sum(axis=0).tolist(), size)
        due = sum(int(of[list(notes)].sum()) for of in (counts.played, counts.missed))
        due += int(counts.wrong_pad[list(notes)].sum())
        heights = [BLOCKS[-(-8 * count // due)] if due else " " for count in bins]
        half = len(bins) // 2
        early, late = "".join(heights[:half]), "".join(heights[half + 1 :])
        pad = signs.middle(size) - half
        return (
            (" " * pad + early, "early"),
            (heights[half], "centre"),
            (late.ljust(size - pad - half - 1), "late"),
        )

    def _fault_line(self, cell: Cell, notes: Sequence[int], size: int) -> Line:
        """Return the letter and what went wrong most often there, with its count."""
        counts, indexes = self.review.counts, list(notes)
        faults = [("─", int(counts.missed[indexes].sum()), "missed")]
        faults.append(("≠", int(counts.wrong_pad[indexes].sum()), "wrong"))
        beside = self.review.strays.get(cell, Counter())
        faults += [
            (signs.BESIDE.get(outcome, "+"), count, "wrong")
            for outcome, count in beside.items()
            if outcome != PLAYED
        ]
        sign, count, ink = max(faults, key=lambda fault: fault[1])
        letter = signs.letter([self.review.pattern.notes[index] for index in notes])
        before = " " * signs.middle(size)
        if not count:
            return (((before + letter).ljust(size), "faint"),)
        told = sign + str(count)
        room = size - len(before) - 1
        if len(told) > room:
            return ((told[:size].ljust(size), ink),)
        return ((before + letter, "faint"), (told.ljust(room), ink))

    def _power_line(self, notes: Sequence[int], size: int) -> Line:
        """Return the mean power of a cell's strokes as a number, or as a block where narrow."""
        counts, indexes = self.review.counts, list(notes)
        played = int(counts.played[indexes].sum())
        if not played:
            return ((" " * size, "plain"),)
        powers = [(counts.power[i], counts.played[i]) for i in indexes if counts.played[i]]
        mean = float(sum(power * count for power, count in powers)) / played
        text = f"{mean:.0f}" if size >= 3 else BLOCKS[min(8, round(mean / 16))]
        return ((text.rjust(min(size, signs.middle(size) + 2)).ljust(size), "plain"),)


def gathered(counts: Sequence[int], size: int) -> list[int]:
    """Return seven bins drawn together into as many as a cell of this size can show."""
    shown = max(1, min(len(counts), 2 * signs.middle(size) + 1))
    surplus = (len(counts) - shown) // 2
    middle = list(counts[surplus : len(counts) - surplus])
    middle[0] += sum(counts[:surplus])
    middle[-1] += sum(counts[len(counts) - surplus :])
    return middle
