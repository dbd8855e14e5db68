"""The hit map of a session as a picture, the same as on the screen.

Every cell has its distribution (early left, late right), its letter and what went wrong; a pointer
on it, or a screen reader, gets the same words as on the screen. Early has a lighter fill and late a
darker one, each on its own side of a centre line: it can be read in grey too. Over another session
a cell has the two distributions, that one's below, and the signs of what differs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.screens import change_words, map_words, signs
from trainer.screens.grid import Cell
from trainer.svg import Sheet

if TYPE_CHECKING:
    from collections.abc import Sequence
    from xml.etree.ElementTree import Element

    from trainer.screens.review import Review

CELL_W, CELL_H, LABEL_W, MARGIN, RULER_H = 46, 44, 110, 24, 26
BAR_W, TALL, NARROWEST = 4, 24, 640
OTHER_H = 30
"""What a cell needs more of over another session."""

KEY = (
    "Each cell: early on the left, on time in the middle, late on the right; "
    "full height is every stroke due."
)
OTHER_KEY = (
    "Below the line the other session. ‹4 is 4 ms earlier than there, 4› later; "
    "▼9 is 9 % fewer faults, ▲9 more; ≈ no clear difference."
)


def hit_map(review: Review) -> Sheet:
    """Return the hit map of all bars, as the review counts it."""
    bars, over = review.board.grid.bars, review.there is not None
    width = LABEL_W + 2 * MARGIN + CELL_W * max(len(bar.beats) for bar in bars)
    width = max(width, NARROWEST)
    block = RULER_H + review.board.grid.other_row * _high(review) + MARGIN
    top = 2 * MARGIN + (60 if over else 44)
    title = review.pattern.title or review.pattern.name
    sheet = Sheet(width, top + MARGIN + block * len(bars), f"Hit map: {title}")
    sheet.text(MARGIN, MARGIN + 16, title, "heading")
    sheet.text(MARGIN, MARGIN + 36, map_words.counted(review), "strong")
    sheet.text(MARGIN, MARGIN + 54, KEY, "faint")
    if over:
        sheet.text(MARGIN, MARGIN + 70, OTHER_KEY, "faint")
    for bar in range(len(bars)):
        _bar(sheet, review, bar, top + block * bar)
    return sheet


def _high(review: Review) -> int:
    """Return how high a cell is."""
    return CELL_H if review.there is None else CELL_H + OTHER_H


def _bar(sheet: Sheet, review: Review, bar: int, top: int) -> None:
    """Draw one bar: its ruler and its cells."""
    grid = review.board.grid
    sheet.text(MARGIN, top + 16, f"bar {bar + 1}", "faint")
    for column, count in enumerate(grid.bars[bar].counts):
        x = MARGIN + LABEL_W + CELL_W * column + CELL_W // 2
        sheet.text(x, top + 16, str(count) if count else "·", "", "middle")
    for row in range(grid.other_row):
        y = top + RULER_H + _high(review) * row
        sheet.text(MARGIN, y + TALL, grid.label(row, 16))
        for column in range(len(grid.bars[bar].beats)):
            _cell(sheet, review, Cell(bar, column, row), y)


def _cell(sheet: Sheet, review: Review, cell: Cell, y: int) -> None:
    """Draw one cell, with its words for a pointer and a screen reader."""
    middle = MARGIN + LABEL_W + CELL_W * cell.column + CELL_W // 2
    notes = review.main_notes(cell)
    if not notes:
        return
    figures, floor = review.figures(cell), y + 28
    group = sheet.group("; ".join(filter(None, map_words.cell_lines(review, cell))))
    _axis(sheet, group, len(figures.histogram), middle, floor)
    _columns(sheet, group, figures.histogram, max(1, figures.due), middle, floor)
    letter = signs.letter([review.pattern.notes[index] for index in notes])
    change = review.change(cell)
    if review.there is None or change is None:
        faults = [("─", figures.missed), ("≠", figures.wrong_pad)]
        told = " ".join(f"{sign}{count}" for sign, count in faults if count)
        floor += 12
    else:
        other = review.there.figures(notes)
        _columns(sheet, group, other.histogram, max(1, other.due), middle, floor, down=True)
        shown = (change_words.sign(one, getattr(change, one.key), 6) for one in _SHOWN)
        told = " ".join(text for text, _ in shown)
        floor += OTHER_H + 10
    kind = "strong" if told.strip(" ≈?") else "faint"
    sheet.text(middle, floor, f"{letter} {told}".strip(), kind, "middle", group)


_SHOWN = change_words.TOLD[:2]
"""The figures whose difference stands in a cell: time and faults."""


def _axis(sheet: Sheet, group: Element, bins: int, middle: int, floor: int) -> None:
    """Draw the line a distribution stands on, and the one that marks on time."""
    wide = BAR_W * bins
    lines = f"M{middle - wide / 2:g} {floor}h{wide}M{middle} {floor}v-{TALL}"
    sheet.shape("path", "axis", group, d=lines)


def _columns(
    sheet: Sheet,
    group: Element,
    counts: Sequence[int],
    due: int,
    middle: int,
    floor: int,
    *,
    down: bool = False,
) -> None:
    """Draw a distribution that stands on its axis, or hangs down from it."""
    half, left = len(counts) // 2, middle - BAR_W * len(counts) / 2
    for place, count in enumerate(counts):
        if count:
            high = TALL * count / due
            side = "early" if place < half else "centre" if place == half else "late"
            x, y = left + BAR_W * place, floor if down else floor - high
            sheet.shape("rect", side, group, x=x, y=y, width=BAR_W, height=high)
