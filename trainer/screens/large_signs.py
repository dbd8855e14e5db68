"""The signs of the grid in letters of several rows, to be read from two metres.

They say the same in the same places as the small ones (`signs.py`): early arrows left of the
letter, late ones right of it, the larger the further off; a stroke on time is a block with its
letter smaller inside; of a missed one a level bar is left; what landed elsewhere shows `≠` instead
of its letter. Beside it, on the right, a column of signs tells what landed there too.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.screens import digits, dots
from trainer.screens.ink import joined
from trainer.screens.layout import DOTS_DOWN, letter_columns, letter_rows

if TYPE_CHECKING:
    from trainer.screens.ink import Line
    from trainer.screens.signs import Face

Rows = tuple[str, ...]


@lru_cache(1024)
def draw(shown: Face, cell: int, high: int, size: int) -> tuple[Line, ...]:
    """Return the `high` lines of a cell of `cell` characters, its letter of some size."""
    side = (cell - 1 - letter_columns(size)) // 2
    rows = letter_rows(size)
    top = (high - rows) // 2
    spare = cell - 2 * side - letter_columns(size)
    blank = ((" " * cell, "plain"),)
    if shown.ink == "missed":
        left, letter, right = _bar(shown.letter, side, size)
    else:
        left, right = _left(shown, side, size), _right(shown, side, size)
        letter = _letter(shown, size)
    ink = "filled" if shown.ink == "centre" else shown.ink
    beside = shown.beside if shown.letter != shown.beside else ""
    body = [
        joined(
            (
                (left[row], shown.ink),
                (letter[row], ink),
                (right[row], shown.ink),
                (beside.ljust(spare), "wrong"),
            )
        )
        for row in range(rows)
    ]
    return (*[blank] * top, *body, *[blank] * (high - rows - top))


def _letter(shown: Face, size: int) -> Rows:
    """Return what stands in the middle: the letter, or the sign that takes its place."""
    rows, columns = letter_rows(size), letter_columns(size)
    if shown.ink == "faint":
        return _on_middle("·", columns, rows)
    if shown.left == "(":
        return _on_middle(f"({shown.letter})" if columns > 2 else shown.letter, columns, rows)
    if shown.ink == "centre":
        return _inside(shown.letter, columns, rows, size - 1)
    letter = "≠" if shown.left == "≠" else shown.letter
    return tuple(row.center(columns) for row in digits.larger(letter, size))


def _inside(letter: str, columns: int, rows: int, size: int) -> Rows:
    """Return a letter in the middle of a block; the ink draws the blanks solid."""
    drawn = digits.larger(letter, size) if size else (letter,)
    top = (rows - len(drawn)) // 2
    blank = " " * columns
    middle = [row.center(columns) for row in drawn]
    return (*[blank] * top, *middle, *[blank] * (rows - top - len(drawn)))


def _left(shown: Face, side: int, size: int) -> Rows:
    """Return the side of early strokes, of accents and of what else is told before a letter."""
    rows, height = letter_rows(size), DOTS_DOWN * size
    if shown.ink == "centre":
        return ("▐".rjust(side),) * rows
    if shown.ink == "early":
        return _fitted(_arrow(shown.left == "‹", side, size, left=True), side, rows, str.rjust)
    if shown.ink == "wrong" and shown.left:
        return _on_middle(shown.letter, side, rows, str.ljust)
    if shown.left == ">" and side > 1:
        drawn = dots.chevron(2 * min(side, 2 * size) - 1, height, size)
        return _fitted(drawn, side, rows, str.rjust)
    return _on_middle("" if shown.left == "(" else shown.left, side, rows, str.rjust)


def _right(shown: Face, side: int, size: int) -> Rows:
    """Return the side of late strokes."""
    rows = letter_rows(size)
    if shown.ink == "centre":
        return ("▌".ljust(side),) * rows
    if shown.ink == "late":
        return _fitted(_arrow(shown.right == "›", side, size, left=False), side, rows, str.ljust)
    return (" " * side,) * rows


def _bar(letter: str, side: int, size: int) -> tuple[Rows, Rows, Rows]:
    """Return a bar over sides and letter, with the letter small in its middle."""
    rows, columns = letter_rows(size), letter_columns(size)
    drawn = dots.bar(2 * (2 * side + columns), size, DOTS_DOWN * size)
    middle, at = (rows - 1) // 2, side + columns // 2
    gap = min(size, 2)
    line = drawn[middle]
    held = f"{letter:^{2 * gap - 1}}"
    line = line[: at - gap + 1] + held + line[at + gap :]
    drawn = (*drawn[:middle], line, *drawn[middle + 1 :])
    return (
        tuple(row[:side] for row in drawn),
        tuple(row[side : side + columns] for row in drawn),
        tuple(row[side + columns :] for row in drawn),
    )


def _arrow(near: bool, side: int, size: int, *, left: bool) -> Rows:
    """Return the arrow of a stroke off its place, small where it is near, with a gap inwards."""
    across = 2 * min(side, 3 * size) - 1
    height = DOTS_DOWN * size
    if near:
        return dots.arrow(max(1, across // 2 - 1 | 1), 3 * size, height, left=left)
    return dots.arrow(across, height, height, left=left)


def _fitted(drawn: Rows, side: int, rows: int, align: object) -> Rows:
    """Return a drawing as exactly so many rows of a side."""
    padded = [align(row, side)[:side] for row in drawn][:rows]  # type: ignore[operator]
    return (*padded, *[" " * side] * (rows - len(padded)))


def _on_middle(text: str, columns: int, rows: int, align: object = str.center) -> Rows:
    """Return a small text on the middle row."""
    middle = (rows - 1) // 2
    row = align(text[:columns], columns)  # type: ignore[operator]
    return tuple(row if at == middle else " " * columns for at in range(rows))
