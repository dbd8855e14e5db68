"""The signs of the grid: how a cell looks with what landed in it, and what each sign means.

A cell has its letter in the middle. Early strokes put their sign to its left and late ones to its
right, the further out the further off, so the side alone tells which. The last character of a roomy
cell is kept for what landed there besides. Where rows are several lines high, blocks above and
below the sign make it larger; where cells are large, `large_signs.py` draws them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.pattern.tables import Level, Limb
from trainer.practice.outcomes import CROSSTALK, DOUBLE, EXTRA, MISSED, RIM, WRONG_PAD

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.model import Note
    from trainer.screens.board import Mark, Stray
    from trainer.screens.ink import Line

ON_TIME_S = 0.010
"""A stroke within this many seconds of its place is drawn in the middle of its cell."""

FAR_S = 0.025
"""A stroke further off than this gets the large sign; from 10 to 25 ms it gets the small one."""

BESIDE = {EXTRA: "+", DOUBLE: ":", RIM: "°", WRONG_PAD: "≠", CROSSTALK: "~"}
"""Signs of what landed besides, or elsewhere."""

MEANINGS = (
    (" R ", "a stroke to come: R or L hand or foot, B both, o where nobody said"),
    (">R ", "an accent; (R) is a ghost note, lR a flam or drag"),
    ("▐R▌", "on time, within 10 ms"),
    ("‹R ", "early by 10 to 25 ms"),
    ("◄R ", "early by more than 25 ms"),
    (" R›", "late by 10 to 25 ms"),
    (" R►", "late by more than 25 ms"),
    ("─R─", "missed: nothing landed"),
    ("≠R ", "landed on another pad; ≠ stands on that pad's row too"),
    (" + ", "extra: a stroke that is not written"),
    (" : ", "double: the pad sent one stroke twice"),
    (" ° ", "the rim, where the head is written"),
    (" ~ ", "crosstalk: another pad shook this one"),
    (" 50", "on the row “other”: a note the kit does not know, by its number"),
    (" ▼ ", "on the ruler: where the beat stands (▽ in the count-in)"),
)
"""Every sign and what it says, in the order of the help."""

NO_SPARE = 3
"""Cells this narrow have no character to spare for what landed besides."""

_LETTERS = {Limb.RH: "R", Limb.LH: "L", Limb.RF: "R", Limb.LF: "L", None: "o"}


@dataclass(frozen=True, slots=True)
class Face:
    """What a cell shows: the signs left and right of its letter, and what stands besides."""

    left: str
    letter: str
    right: str
    ink: str
    beside: str = ""


def middle(size: int) -> int:
    """Return how many characters stand before the letter in a cell of this size."""
    return (size - 2) // 2 if size > NO_SPARE else (size - 1) // 2


def letter(notes: Sequence[Note]) -> str:
    """Return the sticking letter of a cell: R, L, B for both, o where nobody said."""
    letters = {_LETTERS[note.limb] for note in notes if not note.grace}
    return letters.pop() if len(letters) == 1 else "B" if letters else " "


def face(notes: Sequence[Note], marks: Sequence[Mark], strays: Sequence[Stray], size: int) -> Face:
    """Return what a cell of `size` characters shows."""
    beside = BESIDE.get(strays[-1].outcome, "+") if strays else ""
    if not notes:
        return Face("", beside or "·", "", "wrong" if beside else "faint")
    mark = _telling(marks)
    if mark is None:
        return Face(*_written(notes), "written", beside)
    if mark.outcome == RIM:
        beside = BESIDE[RIM]
    left, right, ink = _landed(mark, max(1, middle(size)))
    return Face(left, letter(notes), right, ink, beside)


def _telling(marks: Sequence[Mark]) -> Mark | None:
    """Return the mark that says most where a cell holds several: a fault, else the furthest off."""
    return max(marks, key=lambda m: (m.offset_s is None, abs(m.offset_s or 0.0)), default=None)


def _written(notes: Sequence[Note]) -> tuple[str, str, str]:
    """Return a stroke to come: `>` accents it, brackets make it a ghost, a small letter graces."""
    main = next((note for note in notes if not note.grace), notes[0])
    if main.level is Level.GHOST:
        return "(", letter(notes), ")"
    graces = [note for note in notes if note.grace]
    before = _LETTERS[graces[0].limb].lower() if graces else ""
    return before or (">" if main.level is Level.ACCENT else ""), letter(notes), ""


def _landed(mark: Mark, room: int) -> tuple[str, str, str]:
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
        return ("◄" + far if -offset > FAR_S else "‹"), "", "early"
    return "", (far + "►" if offset > FAR_S else "›"), "late"


def draw(shown: Face, size: int) -> Line:
    """Return a face as the line that holds its letter."""
    before = middle(size)
    if before == 0:
        return _draw_tiny(shown, size)
    after = size - before - 1 - (size > NO_SPARE)
    left, right = shown.left[:before].rjust(before), shown.right[:after].ljust(after)
    beside = shown.beside
    if size <= NO_SPARE and beside:
        left, right = (left, beside) if right == " " else (beside, right)
    spare = ((beside or " ", "wrong"),) if size > NO_SPARE else ()
    if shown.ink == "centre":
        return ((left, "centre"), (shown.letter, "filled"), (right, "centre"), *spare)
    return ((left + shown.letter + right, shown.ink), *spare)


def draw_edge(shown: Face, size: int, *, above: bool) -> Line:
    """Return a line above or below the letter: blocks that make the sign larger."""
    before = middle(size)
    if before == 0 or shown.ink not in ("centre", "early", "late"):
        return ((" " * size, "plain"),)
    half_left, whole, half_right = "▗▄▖" if above else "▝▀▘"
    if shown.ink == "centre":
        row = (half_left + whole + half_right).rjust(before + 2)
    elif shown.ink == "early":
        row = (half_left if shown.left == "‹" else whole * len(shown.left)).rjust(before)
    else:
        row = " " * (before + 1) + (half_right if shown.right == "›" else whole * len(shown.right))
    return ((row.ljust(size)[:size], shown.ink),)


def draw_other(strays: Sequence[Stray], size: int) -> Line:
    """Draw a cell of the row for everything else: the note's number or the pad's letters."""
    if not strays:
        return ((" " * size, "plain"),)
    return ((strays[-1].text[:size].center(size), "wrong"),)


_PAIRS = {"▐": "▐▌", "◄": "◄━", "‹": "‹ ", "►": "━►", "›": " ›", "─": "──"}
"""What became of a stroke, in two characters: early begins on the left, late ends on the right."""


def _draw_tiny(shown: Face, size: int) -> Line:
    """Draw a cell of one or two characters: there the sign takes the letter's place."""
    if shown.ink in ("written", "faint"):
        return (((shown.letter + shown.beside)[:size].ljust(size), shown.ink),)
    sign = (shown.left[:1] or shown.right[-1:] or shown.letter).replace(">", "")
    if size == 1:
        return (("■" if shown.ink == "centre" else sign, shown.ink),)
    if not shown.beside:
        return ((_PAIRS.get(sign, sign).ljust(size), shown.ink),)
    sign = "■" if shown.ink == "centre" else sign
    return ((shown.beside + sign if shown.ink == "late" else sign + shown.beside, shown.ink),)
