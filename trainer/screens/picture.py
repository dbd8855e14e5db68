"""The hit map of a session as an SVG picture: for a browser, light or dark, and for paper.

Every cell has its distribution (early left, late right), its letter and what went wrong; a pointer
on it, or a screen reader, gets the same words as on the screen. Early has a lighter
fill and late a darker one, each on its own side of a centre line: it can be read in grey too.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, SubElement, tostring

from trainer.report import plain
from trainer.screens import cell_words, signs
from trainer.screens.grid import Cell

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.review import Review

CELL_W, CELL_H, LABEL_W, MARGIN, RULER_H = 46, 44, 110, 24, 26
BAR_W, NARROWEST = 4, 640
STYLE = """
svg { background: #fff; color: #16181c; font-family: sans-serif; }
text { fill: currentColor; font-size: 12px; }
.heading { font-size: 18px; font-weight: bold; }
.faint { opacity: .65; }
.axis { stroke: currentColor; stroke-width: .6; opacity: .4; }
.early { fill: #56b4e9; stroke: currentColor; stroke-width: .4; }
.centre { fill: #009e73; stroke: currentColor; stroke-width: .4; }
.late { fill: #b35900; stroke: currentColor; stroke-width: .4; }
.fault { font-weight: bold; }
@media (prefers-color-scheme: dark) { svg { background: #101216; color: #e8e6e1; }
 .late { fill: #e69f00; } }
@media print { svg { background: #fff; color: #000; } .late { fill: #b35900; } }
"""


def hit_map(review: Review) -> str:
    """Return the hit map of all bars, as the review counts it, as the text of an SVG file."""
    bars = review.board.grid.bars
    rows = review.board.grid.other_row
    width = LABEL_W + 2 * MARGIN + CELL_W * max(len(bar.beats) for bar in bars)
    width = max(width, NARROWEST)
    block = RULER_H + rows * CELL_H + MARGIN
    height = 3 * MARGIN + 24 + block * len(bars)
    root = Element(
        "svg", xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {width} {height}", role="img"
    )
    SubElement(root, "style").text = STYLE
    title = plain(review.pattern.title or review.pattern.name)
    SubElement(root, "title").text = f"Hit map: {title}"
    _text(root, MARGIN, MARGIN + 16, title, "heading")
    key = "Each cell: early on the left, on time in the middle, late on the right; "
    _text(root, MARGIN, MARGIN + 36, key + "full height is every stroke due.", "faint")
    for bar in range(len(bars)):
        _bar(root, review, bar, 2 * MARGIN + 24 + block * bar)
    return tostring(root, encoding="unicode") + "\n"


def _bar(root: Element, review: Review, bar: int, top: int) -> None:
    """Draw one bar: its ruler and its cells."""
    grid = review.board.grid
    _text(root, MARGIN, top + 16, f"bar {bar + 1}", "faint")
    for column, count in enumerate(grid.bars[bar].counts):
        x = MARGIN + LABEL_W + CELL_W * column + CELL_W // 2
        _text(root, x, top + 16, str(count) if count else "·", "", "middle")
    for row in range(grid.other_row):
        y = top + RULER_H + CELL_H * row
        _text(root, MARGIN, y + 24, grid.label(row, 16), "")
        for column in range(len(grid.bars[bar].beats)):
            _cell(root, review, Cell(bar, column, row), y)


def _cell(root: Element, review: Review, cell: Cell, y: int) -> None:
    """Draw one cell, with its words for a pointer and a screen reader."""
    middle = MARGIN + LABEL_W + CELL_W * cell.column + CELL_W // 2
    notes = review.main_notes(cell)
    if not notes:
        return
    figures = review.figures(cell)
    strays = review.strays.get(cell, Counter())
    group = SubElement(root, "g")
    SubElement(group, "title").text = "; ".join(
        (
            cell_words.place(review.pattern, review.board.grid, cell),
            cell_words.counted(figures, strays),
            cell_words.timed(figures),
            cell_words.hit_hard(figures),
        )
    )
    _columns(group, figures.histogram, max(1, figures.due), middle, y + 28)
    letter = signs.letter([review.pattern.notes[index] for index in notes])
    faults = [("─", figures.missed), ("≠", figures.wrong_pad)]
    told = " ".join(f"{sign}{count}" for sign, count in faults if count)
    _text(group, middle, y + 40, f"{letter} {told}".strip(), "fault" if told else "faint", "middle")


def _columns(group: Element, counts: Sequence[int], due: int, middle: int, floor: int) -> None:
    """Draw a distribution over its axis."""
    half = len(counts) // 2
    left = middle - BAR_W * len(counts) / 2
    SubElement(
        group,
        "path",
        {"class": "axis", "d": f"M{left:g} {floor}h{BAR_W * len(counts)}M{middle} {floor}v-24"},
    )
    for place, count in enumerate(counts):
        if count:
            high = 24 * count / due
            side = "early" if place < half else "centre" if place == half else "late"
            box = {"x": left + BAR_W * place, "y": floor - high, "width": BAR_W, "height": high}
            SubElement(
                group, "rect", {"class": side, **{name: f"{v:.4g}" for name, v in box.items()}}
            )


def _text(parent: Element, x: float, y: float, text: str, kind: str, anchor: str = "start") -> None:
    """Write some text."""
    made = SubElement(parent, "text", {"x": f"{x:g}", "y": f"{y:g}", "text-anchor": anchor})
    if kind:
        made.set("class", kind)
    made.text = text
