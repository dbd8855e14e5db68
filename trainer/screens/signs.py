"""The signs of the grid: how a cell looks with what landed in it, and what each sign means.

A cell has its letter in the middle. Early strokes put their sign to its left and late ones to its
right, the further out the further off, so the side alone tells which. The last character of a roomy
cell is kept for what landed there besides.
"""

from __future__ import annotations

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
    (" R ", "a stroke to come (R, L: which hand or foot; B: both; o: nobody said)"),
    ("▐R▌", "on time, within 10 ms"),
    ("‹R ", "early by 10 to 25 ms"),
    ("◄R ", "early by more than 25 ms"),
    (" R›", "late by 10 to 25 ms"),
    (" R►", "late by more than 25 ms"),
    ("─R─", "missed: nothing landed"),
    ("≠R ", "landed on another pad; ≠ stands on that pad's row too"),
    (" + ", "extra: a stroke that is not written"),
    (" : ", "double: the pad sent one stroke twice"),
    (" ° ", "rim, where the head is written"),
    (" ~ ", "crosstalk: another pad shook this one"),
    (" 50", "on the row “other”: a note the kit does not know, by its number"),
)
"""Every sign and what it says, in the order of the help."""

_LETTERS = {Limb.RH: "R", Limb.LH: "L", Limb.RF: "R", Limb.LF: "L", None: "o"}


def letter(notes: Sequence[Note]) -> str:
    """Return the sticking letter of a cell: R, L, B for both, o where nobody said."""
    letters = {_LETTERS[note.limb] for note in notes if not note.grace}
    return letters.pop() if len(letters) == 1 else "B" if letters else " "


def grace_letters(notes: Sequence[Note]) -> str:
    """Return the small letter of the grace strokes before a stroke, or nothing."""
    graces = [note for note in notes if note.grace]
    return _LETTERS[graces[0].limb].lower() if graces else ""


def draw(notes: Sequence[Note], marks: Sequence[Mark], strays: Sequence[Stray], size: int) -> Line:
    """Return a cell of `size` characters: its letter, what became of it, what landed besides."""
    if not notes:
        return _draw_empty(strays, size)
    mark = _telling(marks)
    beside = BESIDE.get(strays[-1].outcome, "+") if strays else ""
    if mark and mark.outcome == RIM:
        beside = BESIDE[RIM]
    middle = max(1, size - 1) if size > NO_SPARE else size
    if middle < len("‹R›"):
        return _draw_tiny(letter(notes), mark, beside, size)
    left, right, ink = _sides(notes, mark, (middle - 1) // 2)
    filled = left.rjust((middle - 1) // 2) + letter(notes) + right.ljust(middle // 2)
    if size > NO_SPARE:
        return ((filled, ink), (beside or " ", "wrong"))
    if beside:
        filled = filled[:-1] + beside if filled[-1] == " " else beside + filled[1:]
    return ((filled, ink),)


NO_SPARE = 3
"""Cells this narrow have no character to spare for what landed besides."""


def _draw_empty(strays: Sequence[Stray], size: int) -> Line:
    """Draw a cell nothing is written in."""
    middle = (size - 2) // 2 if size > NO_SPARE else (size - 1) // 2
    if not strays:
        return (((" " * middle + "·").ljust(size), "faint"),)
    return (((" " * middle + BESIDE.get(strays[-1].outcome, "+")).ljust(size), "wrong"),)


def draw_other(strays: Sequence[Stray], size: int) -> Line:
    """Draw a cell of the row for everything else: the note's number or the pad's letters."""
    if not strays:
        return ((" " * size, "plain"),)
    return ((strays[-1].text[:size].center(size), "wrong"),)


def _telling(marks: Sequence[Mark]) -> Mark | None:
    """Return the mark that says most where a cell holds several: a fault, else the furthest off."""
    return max(marks, key=lambda m: (m.offset_s is None, abs(m.offset_s or 0.0)), default=None)


def _sides(notes: Sequence[Note], mark: Mark | None, room: int) -> tuple[str, str, str]:
    """Return what stands left and right of the letter, and the ink."""
    if mark is None:
        return (*_level(notes), "written")
    if mark.outcome == MISSED:
        return "─" * room, "─" * room, "missed"
    if mark.outcome == WRONG_PAD:
        return "≠", "", "wrong"
    offset = mark.offset_s or 0.0
    if abs(offset) <= ON_TIME_S:
        return "▐", "▌", "centre"
    far = abs(offset) > FAR_S
    if offset < 0:
        return ("◄" + "━" * (room - 1) if far else "‹"), "", "early"
    return "", ("━" * (room - 1) + "►" if far else "›"), "late"


def _level(notes: Sequence[Note]) -> tuple[str, str]:
    """Return the signs of a written stroke's level and grace: `>` accent, brackets for a ghost."""
    main = next((note for note in notes if not note.grace), notes[0])
    if main.level is Level.GHOST:
        return "(", ")"
    return (">" if main.level is Level.ACCENT else "") or grace_letters(notes), ""


def _draw_tiny(name: str, mark: Mark | None, beside: str, size: int) -> Line:
    """Draw a cell of one or two characters: the sign takes the letter's place."""
    if mark is None:
        return (((name + beside)[:size].ljust(size), "written"),)
    left, right, ink = _sides((), mark, 1)
    sign = "■" if ink == "centre" else left or right
    if size == 1:
        return ((sign, ink),)
    return ((name + (beside or right[:1]) if not left or ink == "missed" else sign + name, ink),)
