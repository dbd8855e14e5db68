"""A pattern in plain lines: what it asks for in words, and its first bars as tab."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING

from trainer.pattern import describe, tab

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern

MOST_BARS = 64
"""Bars that are drawn; a pattern of thousands would only make the player wait."""


def lines(pattern: Pattern, width: int, *, heading: bool = True) -> list[str]:
    """Return the words and the tab of a pattern for a window `width` characters wide.

    Without the heading, title and description are left out.
    """
    told = [*describe.lines(pattern, brief=True)][0 if heading else 1 + bool(pattern.about) :]
    words = [part for line in told for part in wrapped(line, width)]
    told = [*words, "", *tab.write(pattern, width, MOST_BARS)]
    left = len(pattern.bars) - MOST_BARS
    return [*told, "", f"and {left} {'bar' if left == 1 else 'bars'} more"] if left > 0 else told


def refusal(title: str, fault: str, width: int) -> list[str]:
    """Return what stands in place of a pattern that cannot be read."""
    words = [part for line in fault.splitlines() for part in wrapped(line, width)]
    return [title, "", "This file cannot be read:", *words]


def wrapped(line: str, width: int) -> list[str]:
    """Return a line of words as several of at most a width, all but the first set in."""
    return wrap(line, max(20, width), subsequent_indent="  ") or [""]
