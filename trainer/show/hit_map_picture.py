"""The hit map of a session as an SVG picture, the same as on the screen.

Every cell has its distribution (early left, late right), its letter and what went wrong; a pointer
on it, or a screen reader, gets the same words as on the screen. Early and late share one fill, each
on its own side of a centre line: it can be read in grey too. Over another session a cell has both
distributions, the other one below, and the signs of what differs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.show import comparison_words, hit_map_words, signs
from trainer.show.grid import Cell
from trainer.show.svg import Picture

if TYPE_CHECKING:
    from collections.abc import Sequence
    from xml.etree.ElementTree import Element

    from trainer.measure.hit_map import CellFigures
    from trainer.show.review import Review

CELL_W, CELL_H, LABEL_W, MARGIN, RULER_H = 46, 44, 110, 24, 26
BAR_W, TALL, NARROWEST, WIDEST = 4, 24, 640, 1500
OTHER_H = 42
"""What a cell needs more of over another session."""

KEY = (
    "Each cell: early on the left, on time in the middle, late on the right; "
    "full height is every stroke due.",
)
OTHER_KEY = (
    "Below the line: the other session. ‹4 is 4 ms earlier than there, 4› is 4 ms later;",
    "▼9 is 9% fewer missed or on a wrong pad, ▲9 is 9% more; ≈ no more than chance.",
)


class _BarPlaces:
    """How the bars are laid out: one below the other, or side by side while there is room."""

    def __init__(self, review: Review) -> None:
        grid = review.board.grid
        self.cell_h = CELL_H if review.there is None else CELL_H + OTHER_H
        self.bar_w = LABEL_W + MARGIN + CELL_W * max(len(bar.beats) for bar in grid.bars)
        self.bar_h = RULER_H + grid.other_row * self.cell_h + MARGIN
        self.across = min(len(grid.bars), max(1, (WIDEST - MARGIN) // self.bar_w))
        self.keys = KEY if review.there is None else KEY + OTHER_KEY
        self.top = 2 * MARGIN + 30 + 16 * len(self.keys)
        down = -(-len(grid.bars) // self.across)
        self.width = max(NARROWEST, MARGIN + self.bar_w * self.across)
        self.height = self.top + self.bar_h * down

    def corner(self, bar: int) -> tuple[int, int]:
        """Return where a bar begins."""
        down, right = divmod(bar, self.across)
        return MARGIN + self.bar_w * right, self.top + self.bar_h * down


def hit_map_sheet(review: Review) -> Picture:
    """Return the hit map of all bars, as the review counts it."""
    page = _BarPlaces(review)
    title = review.pattern.title or review.pattern.name
    sheet = Picture(page.width, page.height, f"Hit map: {title}")
    sheet.text(MARGIN, MARGIN + 16, title, "heading")
    sheet.text(MARGIN, MARGIN + 38, hit_map_words.counted_words(review), "strong")
    for line, words in enumerate(page.keys):
        sheet.text(MARGIN, MARGIN + 56 + 16 * line, words, "faint")
    for bar in range(len(review.board.grid.bars)):
        _bar(sheet, review, bar, page)
    return sheet


def _bar(sheet: Picture, review: Review, bar: int, page: _BarPlaces) -> None:
    """Draw one bar: its ruler and its cells."""
    grid, (left, top) = review.board.grid, page.corner(bar)
    sheet.text(left, top + 16, f"bar {bar + 1}", "faint")
    first = left + LABEL_W + CELL_W // 2
    for column, count in enumerate(grid.bars[bar].counts):
        x = first + CELL_W * column
        sheet.text(x, top + 16, str(count) if count else "·", "", "middle")
    for row in range(grid.other_row):
        y = top + RULER_H + page.cell_h * row
        sheet.text(left, y + TALL, grid.label(row, 16))
        for column in range(len(grid.bars[bar].beats)):
            _cell(sheet, review, Cell(bar, column, row), (first + CELL_W * column, y + 28))


def _cell(sheet: Picture, review: Review, cell: Cell, at: tuple[int, int]) -> None:
    """Draw one cell, with its words for a pointer and a screen reader."""
    notes = review.main_notes(cell)
    if not notes:
        return
    (middle, floor), figures = at, review.figures(cell)
    group = sheet.group("; ".join(filter(None, hit_map_words.cell_lines(review, cell))))
    _axis(sheet, group, len(figures.histogram), middle, floor)
    _columns(sheet, group, figures.histogram, max(1, figures.due), at)
    letter = signs.sticking_letter([review.pattern.notes[index] for index in notes])
    below = review.figures_below(cell)
    if below is None:
        reported = [" ".join([letter, *_faults(figures)])]
    else:
        _columns(sheet, group, below.histogram, max(1, below.due), at, down=True)
        floor += OTHER_H - TALL // 2
        reported = _differences(review, cell, letter)
    for line, text in enumerate(reported):
        kind = "faint" if text.rstrip(" ≈?") in ("", letter) else "strong"
        sheet.text(middle, floor + 12 + 14 * line, text, kind, "middle", group)


def _faults(figures: CellFigures) -> list[str]:
    """Return what went wrong in a cell, as the signs of the screen with their counts."""
    faults = (("─", figures.missed), ("≠", figures.wrong_pad))
    return [f"{sign}{count}" for sign, count in faults if count]


def _differences(review: Review, cell: Cell, letter: str) -> list[str]:
    """Return what differs in a cell: time beside its letter, and faults where they do."""
    change = review.change(cell)
    if change is None:
        return [letter]
    (time, _), (faults, ink) = (
        comparison_words.change_sign(one, getattr(change, one.key), 6)
        for one in comparison_words.CHANGE_WORDINGS[:2]
    )
    return [f"{letter} {time}", faults if ink != "faint" else ""]


def _axis(sheet: Picture, group: Element, bins: int, middle: int, floor: int) -> None:
    """Draw the base line of a distribution, and the line at on time."""
    wide = BAR_W * bins
    lines = f"M{middle - wide / 2:g} {floor}h{wide}M{middle} {floor}v-{TALL}"
    sheet.shape("path", "axis", group, d=lines)


def _columns(
    sheet: Picture,
    group: Element,
    counts: Sequence[int],
    due: int,
    at: tuple[int, int],
    *,
    down: bool = False,
) -> None:
    """Draw a distribution up from its axis, or down from it."""
    middle, floor = at
    half, left = len(counts) // 2, middle - BAR_W * len(counts) / 2
    for place, count in enumerate(counts):
        if count:
            high = TALL * count / due
            side = "centre" if place == half else "off"
            x, y = left + BAR_W * place, floor if down else floor - high
            sheet.shape("rect", side, group, x=x, y=y, width=BAR_W, height=high)
