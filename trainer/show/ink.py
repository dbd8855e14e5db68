"""Inked text: the names of the inks, and terminal lines made of spans in them.

An ink is a name; themes and styles decide what it looks like. Colour never says anything alone: the
sign drawn in an ink says the same. All our characters are one column wide.
"""

from __future__ import annotations

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


def line_width(line: Line) -> int:
    """Return how many characters a line has (all ours are one column wide)."""
    return sum(len(text) for text, _ in line)


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
    """Return a line cut or filled with blanks to exactly `columns` characters."""
    room = columns
    kept: list[Span] = []
    for part, ink in line:
        if room <= 0:
            break
        kept.append((part[:room], ink))
        room -= len(part)
    if room > 0:
        kept.append((" " * room, "plain"))
    return tuple(kept)
