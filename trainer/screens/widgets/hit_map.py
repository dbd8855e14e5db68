"""The hit map of one bar, and how the strokes of one cell spread in time.

A cell of the bar has up to three lines, the one chosen first: a small distribution with early on
the left, on time in the middle and late on the right; the letter with what went wrong most often;
the mean power. Of one pass alone the cells look as they did live. Of the cell under the
cursor: columns from 50 ms early to 50 ms late.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from trainer.practice.outcomes import PLAYED
from trainer.screens.common import CellChosen
from trainer.screens.widgets.bar_grid import BarGrid, WrittenGrid, main_line
from trainer.screens.widgets.canvas import Canvas
from trainer.show import comparison_words, signs
from trainer.show.board import mark_of
from trainer.show.grid import Cell, lay_out
from trainer.show.ink import fit_line
from trainer.show.review import ONE_PASS
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

LOWEST_ROW = 3
"""Lines a row has at least where several bars share a page: distribution, letter, power."""

LEAST_BAR = 5
"""Lines of the lowest bar there is: ruler, one row, the row for everything else."""

TALLEST_ROW = 9
"""Lines of a row: seven for the distribution, one each for faults and power."""


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
        count, high = self._page(columns, rows)
        first = self.bar // count * count
        page = range(first, min(first + count, len(self.pattern_grid.bars)))
        alike = {bar: self.layout_for(bar, columns, high) for bar in page}
        return [(place * (high + 1), bar, alike[bar]) for place, bar in enumerate(page)]

    def _page(self, columns: int, rows: int) -> tuple[int, int]:
        """Return how many bars a page has, and the lines each of them may take.

        As many as there is room for: two bars rather than one with finer rows or larger letters,
        while no row becomes lower than `LOWEST_ROW`.
        """
        most = len(self.pattern_grid.bars)
        for count in range(min(most, rows // LEAST_BAR), 1, -1):
            high = (rows + 1) // count - 1
            layout = self.layout_for(self.bar, columns, high)
            fits = layout.height(self.pattern_grid.other_row + 1) <= high
            if fits and layout.high >= LOWEST_ROW:
                return count, high
        return 1, rows

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
        grid, tallest = self.pattern_grid, None if self.review.as_played else TALLEST_ROW
        return lay_out([grid.bars[bar]], grid.other_row + 1, columns, rows, tallest)[0]

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
        if signs.is_accented([self.review.pattern.notes[index] for index in notes]):
            letter = letter if before else signs.ACCENTED.get(letter, letter)
            before = before[:-1] + ">" if before else ""
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

    Returns the counts and their inks: the two inner bins are on time and become one, drawn wide
    where there is room; a cell of two characters shows all that is early beside all that is late.
    """
    half = len(counts) // 2
    if size <= 1:
        return [sum(counts)], ["centre"]
    if size == 2:
        return [sum(counts[:half]), sum(counts[half:])], ["off", "off"]
    before = signs.columns_before_letter(size)
    wide = 3 if before > half - 1 else 1
    sides = min(before - wide // 2, half - 1)
    early = [sum(counts[: half - sides]), *counts[half - sides : half - 1]]
    late = [*counts[half + 1 : half + sides], sum(counts[half + sides :])]
    inks = ["off"] * sides + ["centre"] * wide + ["off"] * sides
    return [*early, *[counts[half - 1] + counts[half]] * wide, *late], inks


SPREAD_ROWS = 8
SPREAD_BAR_COLUMNS = 3


class Spread(Canvas):
    """Draws the distribution of a cell, over that of another session where there is one."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.figures: CellFigures | None = None
        self.below: CellFigures | None = None
        self.passes: Line = ()

    def show(
        self, figures: CellFigures, below: CellFigures | None = None, passes: Line = ()
    ) -> None:
        """Show the distribution of these figures, of those of the other session, and the passes."""
        self.figures, self.below, self.passes = figures, below, passes
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the columns from the top down, the axis, and what it means."""
        if self.figures is None:
            return []
        if self.below is None:
            return [
                *_distribution_lines("strokes by lateness", self.figures.histogram),
                *self._strip(columns - 2, rows - SPREAD_ROWS - 7),
            ]
        first = _distribution_lines("strokes by lateness, here", self.figures.histogram)
        return [*first, (), *_distribution_lines("in the other session", self.below.histogram)]

    def _strip(self, columns: int, rows: int) -> list[Line]:
        """Return a sign for each of the last passes, as many as fit, the last one at the end."""
        if not self.passes or rows < 1 or columns < 1:
            return []
        last = self.passes[-rows * columns :]
        parts = [tuple(last[at : at + columns]) for at in range(0, len(last), columns)]
        return [(), (("pass by pass, the last at the end", "faint"),), *parts]


def pass_strip(review: Review, cell: Cell) -> Line:
    """Return what became of a cell's stroke in each pass so far, as one sign each."""
    notes = review.main_notes(cell)
    if not notes:
        return ()
    written = [review.pattern.notes[notes[0]]]
    until_s = inf if review.complete and review.part != ONE_PASS else review.time_s
    return tuple(
        signs.draw_small_cell(signs.cell_face(written, [mark_of(event)], (), 1), 1)[0]
        for event in review.take.of_note(notes[0], until_s)
    )


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
