"""Inked text: the names of the inks, and terminal lines made of spans in them.

An ink is a name; themes and styles decide what it looks like. Colour never says anything alone: the
sign drawn in an ink says the same. Our own characters are one column wide; those of titles
and names may be two, or none.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

INKS = (
    "plain",  # ordinary text
    "faint",  # what is there but need not be read
    "strong",  # what is read first
    "written",  # a written stroke that is still to come
    "centre",  # landed on time
    "filled",  # the letter of a stroke on time, inside its block
    "off",  # landed early or late: side and word say which
    "missed",  # nothing landed
    "wrong",  # landed on another pad, or beside everything written
    "cursor",  # the step the beat is on
    "chosen",  # the cell under the player's cursor
    "calling",  # a count-in's figures, in large
    "alert",  # paused, counting in, something to act on
)

SOLID = frozenset({"filled", "cursor", "chosen", "alert"})
"""Inks whose blanks are seen too."""

Span = tuple[str, str]
"""Some text and the name of its ink."""

Line = tuple[Span, ...]
"""One terminal row, left to right."""


@lru_cache(maxsize=4096)
def text_width(text: str) -> int:
    """Return how many columns a text takes on a terminal.

    Wide characters (Unicode's East Asian Width) take two, marks that combine none.
    """
    return len(text) if text.isascii() else sum(map(_columns, text))


@lru_cache(maxsize=1024)
def _columns(sign: str) -> int:
    if unicodedata.category(sign) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1


def cut_text(text: str, columns: int) -> str:
    """Return as much of a text's beginning as fits into some columns."""
    if text_width(text) == len(text):
        return text[: max(0, columns)]
    room, end = columns, 0
    for sign in text:
        room -= _columns(sign)
        if room < 0:
            break
        end += 1
    return text[:end]


def padded(text: str, columns: int) -> str:
    """Return a text filled with blanks to some columns."""
    return text + " " * (columns - text_width(text))


def shortened(text: str, columns: int) -> str:
    """Return a text that fits, cut after a word where it is too long."""
    if text_width(text) <= columns:
        return text
    cut = cut_text(text, columns - 2)
    if text[len(cut)] != " ":
        cut = cut.rpartition(" ")[0]
    return f"{cut.rstrip()} …" if cut.strip() else cut_text(text, columns - 1) + "…"


def wrapped_text(line: str, columns: int, hang: int = 4) -> list[str]:
    """Return a line in lines that fit, all but the first set in by `hang` more columns.

    Blanks within a line are kept, so that what fits stays as it is. A word that is wider than a
    line is broken.
    """
    margin = " " * min(len(line) - len(line.lstrip()) + hang, columns // 2)
    found: list[str] = []
    rest = line.rstrip()
    while text_width(rest) > columns:
        cut = cut_text(rest, columns)
        inside = len(rest) - len(rest.lstrip())
        at = len(cut) if rest[len(cut)] == " " else cut.rfind(" ", inside) + 1
        at = at or max(inside + 1, len(cut))
        found.append(rest[:at].rstrip())
        rest = margin + rest[at:].lstrip()
    return [*found, rest]


def line_width(line: Line) -> int:
    """Return how many columns a line has."""
    return sum(text_width(text) for text, _ in line)


def line_text(line: Line) -> str:
    """Return a line without its inks."""
    return "".join(part for part, _ in line)


def joined_spans(line: Iterable[Span]) -> Line:
    """Return a line in as few spans as look the same: fewer to draw, and to compare."""
    kept: list[Span] = []
    for part, ink in line:
        before, last = kept[-1] if kept else ("", "")
        blank = part.isspace() and not {ink, last} & SOLID
        if kept and (ink == last or blank):
            kept[-1] = (before + part, last)
        elif part:
            kept.append((part, ink))
    return tuple(kept)


def fit_line(line: Line, columns: int) -> Line:
    """Return a line cut or filled with blanks to exactly so many columns."""
    room = columns
    kept: list[Span] = []
    for part, ink in line:
        if room <= 0:
            break
        width = text_width(part)
        if width > room:
            part = cut_text(part, room)
            kept.append((part, ink))
            room -= text_width(part)
            break
        kept.append((part, ink))
        room -= width
    if room > 0:
        kept.append((" " * room, "plain"))
    return tuple(kept)
