"""How a bar fits into a window: nothing is left out, everything grows, nothing jumps."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from stage import pattern
from textual._compositor import ChopsUpdate
from textual.app import App
from textual.geometry import Region

from trainer.screens.trainer_app import within_window
from trainer.show.grid import (
    LARGEST,
    PatternGrid,
    lay_out,
    letter_columns,
    letter_rows,
    letter_size,
)

if TYPE_CHECKING:
    from trainer.show.grid import BarLayout

SIZES = [(78, 16), (118, 31), (198, 48), (298, 76), (60, 17)]


def laid_out(grid: PatternGrid, size: tuple[int, int]) -> BarLayout:
    """Return how the first bar fits."""
    return lay_out(grid.bars, len(grid.rows) + 1, *size)[0]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("per_beat", [1, 2, 3, 4, 6, 8, 12])
def test_a_layout_fits_its_window(size: tuple[int, int], per_beat: int) -> None:
    """Cells, label and rulers never need more than the window has, and no column is left out."""
    width, height = size
    grid = PatternGrid(pattern(per_beat=per_beat))
    layout = laid_out(grid, size)
    widest = max(end - first for first, end in layout.lines)
    assert layout.label + 1 + widest * layout.cell <= width
    assert layout.height(len(grid.rows) + 1) <= height
    assert [column for line in layout.lines for column in range(*line)] == list(
        range(len(grid.bars[0].beats))
    )


def test_a_dense_bar_breaks_at_a_beat() -> None:
    """Thirty-seconds in 80 columns go on two lines, each beginning on a beat."""
    grid = PatternGrid(pattern(per_beat=8))
    layout = laid_out(grid, (80, 17))
    assert layout.lines == ((0, 16), (16, 32))
    assert layout.cell >= 4


@pytest.mark.parametrize(
    ("size", "letter"), [((78, 16), 0), ((118, 31), 1), ((198, 48), 2), ((298, 76), 3)]
)
def test_letters_ruler_and_rows_grow_with_the_window(size: tuple[int, int], letter: int) -> None:
    """Sixteenths on four rows: every larger window has larger letters in wider, higher cells."""
    layout = laid_out(PatternGrid(pattern()), size)
    assert layout.letter == letter
    assert layout.ruler == max(0, letter - 1)
    assert layout.high >= letter_rows(letter)
    assert layout.cell >= letter_columns(letter) + 2


@pytest.mark.parametrize("size", SIZES)
def test_nothing_jumps_from_bar_to_bar(size: tuple[int, int]) -> None:
    """A bar of quarters after one of sixteenths keeps the height of its rows and its letters."""
    dense, sparse = PatternGrid(pattern(bars=2)).bars[0], PatternGrid(pattern(per_beat=1)).bars[0]
    first, second = lay_out([dense, sparse], 5, *size)
    assert replace(first, cell=0, lines=()) == replace(second, cell=0, lines=())


def test_a_letter_has_room_for_both_sides() -> None:
    """A cell of the width and height of its letter alone takes the next smaller one."""
    for size in range(1, LARGEST + 1):
        columns, rows = letter_columns(size), letter_rows(size)
        assert letter_size(columns + 2 * size + 1, rows) == size
        assert letter_size(columns, rows) < size
        assert letter_size(columns + 2 * size + 1, rows - 1) < size


def test_what_is_pointed_at_is_the_row_drawn_there() -> None:
    """The ruler is no row; the last row has one line."""
    layout = laid_out(PatternGrid(pattern()), (198, 48))
    ruler = letter_rows(layout.ruler)
    assert layout.row_at(ruler - 1, 5) is None
    assert layout.row_at(ruler, 5) == 0
    assert layout.row_at(ruler + layout.high, 5) == 1
    assert layout.row_at(layout.line_height(5) - 1, 5) == 4


def test_lines_that_a_smaller_window_has_lost_are_not_drawn() -> None:
    """Textual itself fails over them; those that are still there are drawn, none is no update."""

    async def check() -> None:
        app = App[None]()
        async with app.run_test(size=(80, 24)):

            def drawn(*regions: Region) -> ChopsUpdate:
                app.screen._compositor._dirty_regions = set(regions)
                update = app.screen._compositor.render_update()
                assert isinstance(update, ChopsUpdate)
                return update

            torn = drawn(Region(0, 22, 5, 4), Region(0, 30, 5, 3))
            with pytest.raises(IndexError):
                torn.render_segments(app.console)
            left = within_window(torn)
            assert left
            assert {y for y, _, _ in left.spans} == {22, 23}
            assert left.render_segments(app.console)
            assert within_window(drawn(Region(0, 24, 5, 4))) is None

    asyncio.run(check())
