"""The hit map of one bar, and how the strokes of one cell spread in time.

A cell of the bar has up to three lines, the one chosen first: a small distribution with early on
the left, on time in the middle and late on the right; the letter with what went wrong most often;
the mean power. Of one pass alone the cells look as they did live. Of the cell under the
cursor: columns from 50 ms early to 50 ms late.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.practice.outcomes import PLAYED
from trainer.screens.common import CellChosen
from trainer.screens.widgets.bar_grid import BarGrid, WrittenGrid, main_line
from trainer.screens.widgets.canvas import Canvas
from trainer.show import comparison_words, signs
from trainer.show.grid import Cell, lay_out
from trainer.show.ink import fit_line
from trainer.show.take import FINE_EDGES_MS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.events import Click

    from trainer.measure.hit_map import CellFigures
    from trainer.show.grid import BarLayout
    from trainer.show.ink import Line
    from trainer.show.review import Review


VIEWS = ("time", "faults", "power")
"""What the first line of each cell can show."""

BLOCKS = " ▁▂▃▄▅▆▇█"

TALLEST_ROW = 6
"""Lines of a row: four for the distribution, one each for faults and power."""


class MapGrid(BarGrid):
    """Draws the review's bar, and the player's cursor on one of its cells."""

    def __init__(self, review: Review, *, id: str | None = None) -> None:
        super().__init__(review.board, id=id)
        self.review = review
        self.view = 0
        self.chosen = min(review.board.grid.notes)

    def refresh_map(self, cursor: int | None) -> None:
        """Draw the review as it is now; the player's cursor goes along to another page."""
        self.board = self.review.board
        self.pattern_grid = self.board.grid
        self.bar = self.review.bar
        on_page = [bar for _, bar, _ in self.shown(*self.size)]
        bar = self.chosen.bar if self.chosen.bar in on_page else self.bar
        last = len(self.pattern_grid.bars[bar].beats) - 1
        other = self.pattern_grid.other_row
        self.chosen = Cell(bar, min(self.chosen.column, last), min(self.chosen.row, other))
        self.look_at(self.bar, cursor)
        self.redraw()

    def move(self, right: int, down: int) -> None:
        """Move the player's cursor: up and down inside the bar, left and right through all bars."""
        bars = self.pattern_grid.bars
        bar, column = self.chosen.bar, self.chosen.column + right
        if not 0 <= column < len(bars[bar].beats):
            bar = (bar + right) % len(bars)
            column = 0 if right > 0 else len(bars[bar].beats) - 1
        row = (self.chosen.row + down) % (self.pattern_grid.other_row + 1)
        self.chosen = Cell(bar, column, row)

    def on_click(self, event: Click) -> None:
        """Put the cursor on the cell that was clicked."""
        cell = self.cell_at(event.x, event.y)
        if cell is not None:
            self.chosen = cell
            self.redraw()
            self.post_message(CellChosen())

    def shown(self, columns: int, rows: int) -> list[tuple[int, int, BarLayout]]:
        """Return a page of bars, as many as fit, with the bar looked at among them."""
        layout = self.layout_for(self.bar, columns, rows)
        high = layout.height(self.pattern_grid.other_row + 1) + 1
        count = max(1, (rows + 1) // high)
        first = self.bar // count * count
        page = range(first, min(first + count, len(self.pattern_grid.bars)))
        alike = {bar: self.layout_for(bar, columns, high - 1) for bar in page}
        return [(place * high, bar, alike[bar]) for place, bar in enumerate(page)]

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the page."""
        return WrittenGrid.draw_lines(self, columns, rows)

    def row_lines(self, layout: BarLayout, bar: int, span: tuple[int, int], row: int) -> list[Line]:
        """Return a row's lines; counts change everywhere at once, so nothing is kept."""
        return WrittenGrid.row_lines(self, layout, bar, span, row)

    def filled(self, bar: int) -> bool:
        """Every bar shows what landed."""
        return True

    def cell_lines(self, cell: Cell, size: int, high: int) -> Sequence[Line]:
        """Return a cell's lines, marked where the cursor is."""
        lines = self._plain_lines(cell, size, high)
        if cell != self.chosen:
            return lines
        return [(("".join(text for text, _ in fit_line(line, size)), "chosen"),) for line in lines]

    def layout_for(self, bar: int, columns: int, rows: int) -> BarLayout:
        """Return how a bar fits; taller rows give finer distributions."""
        grid = self.pattern_grid
        return lay_out([grid.bars[bar]], grid.other_row + 1, columns, rows, TALLEST_ROW)[0]

    def _plain_lines(self, cell: Cell, size: int, high: int) -> Sequence[Line]:
        if self.review.as_played:
            return self.draw_cell(cell, size, high, now=True)
        blank: Line = ((" " * size, "plain"),)
        notes = self.review.main_notes(cell)
        if not notes:
            line = self._stray_line(cell, size)
            return [line if at == main_line(high) else blank for at in range(high)]
        change = self.review.change(cell)
        if change is not None:
            letter = signs.sticking_letter([self.review.pattern.notes[index] for index in notes])
            lines = comparison_words.change_cell_lines(change, letter, size, self.view)
            return [*lines, *[blank] * high][:high]
        parts = (
            self._time_lines(notes, size, max(1, high - 2)),
            [self._fault_line(cell, notes, size)],
            [self._power_line(notes, size)],
        )
        turned = [*parts[self.view :], *parts[: self.view]]
        return [line for part in turned for line in part][:high]

    def _stray_line(self, cell: Cell, size: int) -> Line:
        """Return a cell nothing is written in: the sign of what fell there, and how often."""
        found, below = self.review.strays(cell), self.review.strays_below(cell)
        beside = found + below
        other = cell.row == self.pattern_grid.other_row
        before = " " * signs.columns_before_letter(size)
        if not beside:
            return (((before + (" " if other else "·")).ljust(size)[:size], "faint"),)
        outcome, total = beside.most_common(1)[0][0], found.total()
        text = signs.BESIDE.get(outcome, "+") + str(total)
        if self.review.there is not None:
            text = comparison_words.stray_text(total, below.total())
        return ((text[: max(1, size - 1)].rjust(max(1, size - 1)).ljust(size), "wrong"),)

    def _time_lines(self, notes: Sequence[int], size: int, high: int) -> list[Line]:
        """Return the small distribution: heights are shares of all strokes that were due."""
        counts, indexes = self.review.here.counts, list(notes)
        due = self.review.here.due(notes)
        bins, inks = gathered_bins(counts.histogram[indexes].sum(axis=0).tolist(), size)
        steps = [-(-8 * high * count // due) if due else 0 for count in bins]
        pad = signs.columns_before_letter(size) - len(bins) // 2 if size > 2 else 0
        lines = []
        for level in range(high - 1, -1, -1):
            blocks = [BLOCKS[max(0, min(8, step - 8 * level))] for step in steps]
            spans = [(" " * pad, "plain"), *zip(blocks, inks, strict=True)]
            lines.append(fit_line(tuple(spans), size))
        return lines

    def _fault_line(self, cell: Cell, notes: Sequence[int], size: int) -> Line:
        """Return the letter and what went wrong most often there, with its count."""
        counts, indexes = self.review.here.counts, list(notes)
        faults = [("─", int(counts.missed[indexes].sum()), "missed")]
        faults.append(("≠", int(counts.wrong_pad[indexes].sum()), "wrong"))
        beside = self.review.strays(cell)
        faults += [
            (signs.BESIDE.get(outcome, "+"), count, "wrong")
            for outcome, count in beside.items()
            if outcome != PLAYED
        ]
        sign, count, ink = max(faults, key=lambda fault: fault[1])
        letter = signs.sticking_letter([self.review.pattern.notes[index] for index in notes])
        before = " " * signs.columns_before_letter(size)
        if not count:
            return (((before + letter).ljust(size), "faint"),)
        reported = sign + str(count)
        room = size - len(before) - 1
        if len(reported) > room:
            return ((reported[:size].ljust(size), ink),)
        return ((before + letter, "faint"), (reported.ljust(room), ink))

    def _power_line(self, notes: Sequence[int], size: int) -> Line:
        """Return the mean power of a cell's strokes as a number, or as a block where narrow."""
        counts, indexes = self.review.here.counts, list(notes)
        played = int(counts.played[indexes].sum())
        if not played:
            return ((" " * size, "plain"),)
        powers = [(counts.power[i], counts.played[i]) for i in indexes if counts.played[i]]
        mean = float(sum(power * count for power, count in powers)) / played
        text = f"{mean:.0f}" if size >= 3 else BLOCKS[min(8, round(mean / 16))]
        return (
            (text.rjust(min(size, signs.columns_before_letter(size) + 2)).ljust(size), "plain"),
        )


def gathered_bins(counts: Sequence[int], size: int) -> tuple[list[int], list[str]]:
    """Draw eight bins, four on either side of 0, together into as many as a cell can show.

    Returns the counts and their inks: the two inner bins are on time and become one, except in a
    cell of two characters, which shows all that is early beside all that is late.
    """
    half = len(counts) // 2
    if size <= 1:
        return [sum(counts)], ["centre"]
    if size == 2:
        return [sum(counts[:half]), sum(counts[half:])], ["off", "off"]
    sides = min(signs.columns_before_letter(size), half - 1)
    early = [sum(counts[: half - sides]), *counts[half - sides : half - 1]]
    late = [*counts[half + 1 : half + sides], sum(counts[half + sides :])]
    inks = ["off"] * sides + ["centre"] + ["off"] * sides
    return [*early, counts[half - 1] + counts[half], *late], inks


SPREAD_ROWS = 8
SPREAD_BAR_COLUMNS = 3


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
            return _distribution_lines("strokes by lateness", self.figures.histogram)
        first = _distribution_lines("strokes by lateness, here", self.figures.histogram)
        return [*first, (), *_distribution_lines("in the other session", self.below.histogram)]


def _distribution_lines(heading: str, counts: Sequence[int]) -> list[Line]:
    """Return one distribution with its axis."""
    most = max(1, *counts)
    heights = [8 * SPREAD_ROWS * count / most for count in counts]
    half = len(FINE_EDGES_MS) // 2
    lines: list[Line] = [((heading, "faint"),), ()]
    for level in range(SPREAD_ROWS - 1, -1, -1):
        cells = [
            BLOCKS[max(0, min(8, round(height - 8 * level)))] * SPREAD_BAR_COLUMNS
            for height in heights
        ]
        early, late = "".join(cells[:half]), "".join(cells[half + 1 :])
        lines.append(((early, "off"), (cells[half], "centre"), (late, "off")))
    strokes = "1 stroke" if sum(counts) == 1 else f"{sum(counts)} strokes"
    return [
        *lines,
        (("─" * half * SPREAD_BAR_COLUMNS + "─┴─" + "─" * half * SPREAD_BAR_COLUMNS, "faint"),),
        (
            (
                "50 early".ljust(half * SPREAD_BAR_COLUMNS + 1)
                + "0"
                + "late 50".rjust(half * SPREAD_BAR_COLUMNS + 1),
                "faint",
            ),
        ),
        ((f"ms; highest column: {max(counts)} of {strokes}", "plain"),),
    ]
