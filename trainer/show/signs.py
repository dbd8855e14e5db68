"""The signs of the grid, small and large: how a cell looks, and what each sign means.

A cell has its letter in the middle. Early strokes put their sign to its left and late ones to its
right, the further out the further off, so the side alone says which. The last character of a roomy
cell is kept for what also landed there. Where rows are several lines high, blocks above and below
the sign make it larger. In large cells the letters have several rows, to be read from two metres,
with the same signs in the same places: a stroke on time is between two posts, a missed one is a
level bar; what landed elsewhere shows `≠` instead of its letter.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.pattern.model import Level, Limb
from trainer.practice.outcomes import CROSSTALK, DOUBLE, EXTRA, MISSED, RIM, WRONG_PAD
from trainer.show import drawing
from trainer.show.grid import DOTS_DOWN, letter_columns, letter_rows
from trainer.show.ink import joined_spans

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.model import Note
    from trainer.show.board import StrayHit, StrokeMark
    from trainer.show.ink import Line


ON_TIME_S = 0.010
"""A stroke within this many seconds of its place is drawn in the middle of its cell."""

FAR_S = 0.025
"""A stroke further off than this gets the large sign; from 10 to 25 ms it gets the small one."""

BESIDE = {EXTRA: "+", DOUBLE: ":", RIM: "°", WRONG_PAD: "≠", CROSSTALK: "~"}
"""Signs of what also landed, or landed elsewhere."""

SIGN_MEANINGS = (
    (" R ", "to come: R or L hand or foot, B both, o open, # choke"),
    (">R ", "an accent; (R) is a ghost note, lR a flam or drag"),
    ("▐R▌", "on time, within 10 ms; Ŕ: an accent that was played"),
    ("‹R ", "early by 10 to 25 ms"),
    ("◄R ", "early by more than 25 ms"),
    (" R›", "late by 10 to 25 ms"),
    (" R►", "late by more than 25 ms"),
    ("─R─", "missed: nothing landed"),
    ("≠R ", "landed on another pad; that pad's row has ≠ too"),
    (" + ", "extra: a stroke that is not written"),
    (" : ", "double trigger: the pad sent one stroke twice"),
    (" ° ", "the rim, where the head is written"),
    (" ~ ", "crosstalk: another pad shook this one"),
    (" 50", "row “other”: a note that the kit does not know"),
    (" ▼ ", "on the ruler: the beat (▽ in the count-in)"),
)
"""Every sign and its meaning, in the order of the help."""

NO_SPARE = 3
"""Cells this narrow have no character to spare for what else landed."""

_LETTERS = {Limb.RH: "R", Limb.LH: "L", Limb.RF: "R", Limb.LF: "L", None: "o"}

CHOKE_SIGN = "#"
"""A cymbal that is grabbed, as in a pattern file."""


@dataclass(frozen=True, slots=True)
class CellFace:
    """What a cell shows: the signs left and right of its letter, and what else landed."""

    left: str
    letter: str
    right: str
    ink: str
    beside: str = ""
    accent: bool = False


def columns_before_letter(size: int) -> int:
    """Return how many characters are before the letter in a cell of this size."""
    return (size - 2) // 2 if size > NO_SPARE else (size - 1) // 2


def sticking_letter(notes: Sequence[Note]) -> str:
    """Return the letter of a cell: R, L, B for both, o without a written limb, # for a choke."""
    struck = [note for note in notes if not note.grace]
    letters = {CHOKE_SIGN if note.choke else _LETTERS[note.written_limb] for note in struck}
    return letters.pop() if len(letters) == 1 else "B" if letters else " "


def cell_face(
    notes: Sequence[Note], marks: Sequence[StrokeMark], strays: Sequence[StrayHit], size: int
) -> CellFace:
    """Return what a cell of `size` characters shows."""
    beside = BESIDE.get(strays[-1].outcome, "+") if strays else ""
    if not notes:
        return CellFace("", beside or "·", "", "wrong" if beside else "faint")
    mark = _worst_mark(marks)
    if mark is None:
        return CellFace(*_written(notes), "written", beside)
    if mark.outcome == RIM:
        beside = BESIDE[RIM]
    left, right, ink = _landed(mark, max(1, columns_before_letter(size)))
    return CellFace(left, sticking_letter(notes), right, ink, beside, is_accented(notes))


def is_accented(notes: Sequence[Note]) -> bool:
    """Return whether a stroke of a cell is written as an accent."""
    return any(note.level is Level.ACCENT for note in notes if not note.grace)


ACCENTED = {"R": "Ŕ", "L": "Ĺ", "B": "Ḃ", "o": "ó"}
"""Small letters of accents that were played: the place of `>` may be taken by another sign."""


def _worst_mark(marks: Sequence[StrokeMark]) -> StrokeMark | None:
    """Return the worst mark of a cell: a fault, else the furthest off."""
    return max(marks, key=lambda m: (m.offset_s is None, abs(m.offset_s or 0.0)), default=None)


def _written(notes: Sequence[Note]) -> tuple[str, str, str]:
    """Return a stroke to come: `>` accents it, brackets make it a ghost, a small letter graces."""
    main = next((note for note in notes if not note.grace), notes[0])
    if main.level is Level.GHOST:
        return "(", sticking_letter(notes), ")"
    graces = [note for note in notes if note.grace]
    before = _LETTERS[graces[0].written_limb].lower() if graces else ""
    return before or (">" if main.level is Level.ACCENT else ""), sticking_letter(notes), ""


def _landed(mark: StrokeMark, room: int) -> tuple[str, str, str]:
    """Return the signs left and right of the letter, and their ink."""
    if mark.outcome == MISSED:
        return "─" * room, "─" * room, "missed"
    if mark.outcome == WRONG_PAD:
        return "≠", "", "wrong"
    offset = mark.offset_s or 0.0
    if abs(offset) <= ON_TIME_S:
        return "▐", "▌", "centre"
    far = "━" * (room - 1)
    if offset < 0:
        return ("◄" + far if -offset > FAR_S else "‹"), "", "off"
    return "", (far + "►" if offset > FAR_S else "›"), "off"


def draw_small_cell(shown: CellFace, size: int) -> Line:
    """Return a face as the line that holds its letter."""
    before = columns_before_letter(size)
    if before == 0:
        return _draw_tiny(shown, size)
    after = size - before - 1 - (size > NO_SPARE)
    left, right = shown.left[:before].rjust(before), shown.right[:after].ljust(after)
    beside = shown.beside
    letter = ACCENTED.get(shown.letter, shown.letter) if shown.accent else shown.letter
    if size <= NO_SPARE and beside:
        left, right = (left, beside) if right == " " else (beside, right)
    spare = ((beside or " ", "wrong"),) if size > NO_SPARE else ()
    if shown.ink == "centre":
        return ((left, "centre"), (letter, "filled"), (right, "centre"), *spare)
    return ((left + letter + right, shown.ink), *spare)


def draw_cell_edge(shown: CellFace, size: int, *, above: bool) -> Line:
    """Return a line above or below the letter: blocks that make the sign larger."""
    before = columns_before_letter(size)
    if before == 0 or shown.ink not in ("centre", "off"):
        return ((" " * size, "plain"),)
    half_left, whole, half_right = "▗▄▖" if above else "▝▀▘"
    if shown.ink == "centre":
        row = (half_left + whole + half_right).rjust(before + 2)
    elif shown.left:
        row = (half_left if shown.left == "‹" else whole * len(shown.left)).rjust(before)
    else:
        row = " " * (before + 1) + (half_right if shown.right == "›" else whole * len(shown.right))
    return ((row.ljust(size)[:size], shown.ink),)


def draw_other_cell(strays: Sequence[StrayHit], size: int) -> Line:
    """Draw a cell of the row for everything else: the note's number or the pad's letters."""
    if not strays:
        return ((" " * size, "plain"),)
    return ((strays[-1].text[:size].center(size), "wrong"),)


_PAIRS = {"▐": "▐▌", "◄": "◄━", "‹": "‹ ", "►": "━►", "›": " ›", "─": "──"}
"""What became of a stroke, in two characters: early begins on the left, late ends on the right."""


def _draw_tiny(shown: CellFace, size: int) -> Line:
    """Draw a cell of one or two characters: there the sign takes the letter's place."""
    if shown.ink in ("written", "faint"):
        return (((shown.letter + shown.beside)[:size].ljust(size), shown.ink),)
    sign = (shown.left[:1] or shown.right[-1:] or shown.letter).replace(">", "")
    if size == 1:
        return (("■" if shown.ink == "centre" else sign, shown.ink),)
    if not shown.beside:
        return ((_PAIRS.get(sign, sign).ljust(size), shown.ink),)
    sign = "■" if shown.ink == "centre" else sign
    late = shown.ink == "off" and bool(shown.right)
    return ((shown.beside + sign if late else sign + shown.beside, shown.ink),)


Rows = tuple[str, ...]


@lru_cache(1024)
def draw_large_cell(shown: CellFace, cell: int, high: int, size: int) -> tuple[Line, ...]:
    """Return the `high` lines of a cell of `cell` characters, its letter of some size."""
    side = (cell - 1 - letter_columns(size)) // 2
    rows = letter_rows(size)
    top = (high - rows) // 2
    spare = cell - 2 * side - letter_columns(size)
    blank = ((" " * cell, "plain"),)
    if shown.ink == "missed":
        left, letter, right = _missed_bar(shown.letter, side, size)
    else:
        left, right = _early_side(shown, side, size), _late_side(shown, side, size)
        letter = _large_letter(shown, size)
    if shown.accent:
        left = (left[0][: side - 1] + ">", *left[1:])
    beside = shown.beside if shown.letter != shown.beside else ""
    body = [
        joined_spans(
            (
                (left[row], shown.ink),
                (letter[row], shown.ink),
                (right[row], shown.ink),
                (beside.ljust(spare), "wrong"),
            )
        )
        for row in range(rows)
    ]
    return (*[blank] * top, *body, *[blank] * (high - rows - top))


def _large_letter(shown: CellFace, size: int) -> Rows:
    """Return what is in the middle: the letter, or the sign that takes its place."""
    rows, columns = letter_rows(size), letter_columns(size)
    if shown.ink == "faint":
        return _on_middle_row("·", columns, rows)
    if shown.left == "(":
        return _on_middle_row(f"({shown.letter})" if columns > 2 else shown.letter, columns, rows)
    letter = "≠" if shown.left == "≠" else shown.letter
    return tuple(row.center(columns) for row in drawing.large_letters(letter, size))


def _early_side(shown: CellFace, side: int, size: int) -> Rows:
    """Return the side of early strokes, of accents and of what else comes before a letter."""
    rows, height = letter_rows(size), DOTS_DOWN * size
    if shown.ink == "centre":
        return (f"{'█' * (size - 1)}▌".rjust(side)[-side:],) * rows
    if shown.ink == "off" and shown.left:
        return _fitted_side(
            _offset_arrow(shown.left == "‹", side, size, left=True), side, rows, str.rjust
        )
    if shown.ink == "wrong" and shown.left:
        return _on_middle_row(shown.letter, side, rows, str.ljust)
    if shown.left == ">" and side > 1:
        drawn = drawing.chevron_shape(2 * min(side, 2 * size) - 1, height, size)
        return _fitted_side(drawn, side, rows, str.rjust)
    return _on_middle_row("" if shown.left == "(" else shown.left, side, rows, str.rjust)


def _late_side(shown: CellFace, side: int, size: int) -> Rows:
    """Return the side of late strokes."""
    rows = letter_rows(size)
    if shown.ink == "centre":
        return (f"▐{'█' * (size - 1)}".ljust(side)[:side],) * rows
    if shown.ink == "off" and shown.right:
        return _fitted_side(
            _offset_arrow(shown.right == "›", side, size, left=False), side, rows, str.ljust
        )
    return (" " * side,) * rows


def _missed_bar(letter: str, side: int, size: int) -> tuple[Rows, Rows, Rows]:
    """Return a bar over sides and letter, with the letter small in its middle."""
    rows, columns = letter_rows(size), letter_columns(size)
    drawn = drawing.bar_shape(2 * (2 * side + columns), size, DOTS_DOWN * size)
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


def _offset_arrow(near: bool, side: int, size: int, *, left: bool) -> Rows:
    """Return the arrow of a stroke off its place, small where it is near, with a gap inwards."""
    across = 2 * min(side, 3 * size) - 1
    height = DOTS_DOWN * size
    if near:
        return drawing.arrow_shape(max(1, across // 2 - 1 | 1), 3 * size, height, left=left)
    return drawing.arrow_shape(across, height, height, left=left)


def _fitted_side(drawn: Rows, side: int, rows: int, align: object) -> Rows:
    """Return a drawing as exactly so many rows of a side."""
    padded = [align(row, side)[:side] for row in drawn][:rows]  # type: ignore[operator]
    return (*padded, *[" " * side] * (rows - len(padded)))


def _on_middle_row(text: str, columns: int, rows: int, align: object = str.center) -> Rows:
    """Return a small text on the middle row."""
    middle = (rows - 1) // 2
    row = align(text[:columns], columns)  # type: ignore[operator]
    return tuple(row if at == middle else " " * columns for at in range(rows))
