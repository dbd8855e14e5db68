"""Beams and tuplet brackets of a bar that is spelled."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING

from trainer.pattern.ties import group_start

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainer.pattern.model import Meter
    from trainer.pattern.rhythm import Glyph


def beamed(glyphs: list[Glyph], meter: Meter) -> list[Glyph]:
    """Give beams to neighbours below a quarter within a group; a rest breaks them."""
    found: list[Glyph] = []
    for (_, beamable), run in groupby(glyphs, key=lambda glyph: _beam_key(glyph, meter)):
        row = list(run)
        found += _beam_run(row) if beamable and len(row) > 1 else row
    return found


def bracketed(glyphs: list[Glyph]) -> list[Glyph]:
    """Mark the tuplets that one unbroken beam does not show."""
    found: list[Glyph] = []
    for glyph in glyphs:
        found.append(glyph)
        if glyph.closes:
            first = max(at for at, one in enumerate(found) if one.opens)
            if not _one_beam(found[first:]):
                found[first] = replace(found[first], bracket=True)
    return found


def _beam_key(glyph: Glyph, meter: Meter) -> tuple[Fraction, bool]:
    return group_start(glyph.beat, meter), bool(glyph.notes) and glyph.base >= 8


def _beam_run(row: list[Glyph]) -> list[Glyph]:
    levels = [_flags(glyph) for glyph in row]
    halves = [_half(glyph, max(levels)) for glyph in row]
    beams: list[list[str]] = [[] for _ in row]
    for level in range(1, max(levels) + 1):
        keys = [(levels[at] >= level, halves[at] if level > 1 else 0) for at in range(len(row))]
        for (reached, _), group in groupby(range(len(row)), key=lambda at: keys[at]):
            stretch = list(group)
            if reached:
                for at, word in zip(stretch, _words(stretch), strict=True):
                    beams[at].append(word)
    return [replace(glyph, beams=tuple(words)) for glyph, words in zip(row, beams, strict=True)]


def _words(stretch: list[int]) -> list[str]:
    """Return the words of one beam over a stretch; a single note gets a hook to its neighbour."""
    if len(stretch) == 1:
        return ["forward hook" if stretch[0] == 0 else "backward hook"]
    return ["begin", *["continue"] * (len(stretch) - 2), "end"]


def _flags(glyph: Glyph) -> int:
    return glyph.base.bit_length() - 3


def _half(glyph: Glyph, levels: int) -> int:
    """Return which half of its beat a glyph is in, where 32nds need their inner beams broken."""
    return int(glyph.beat % 1 >= Fraction(1, 2)) if levels >= 3 else 0


def _one_beam(tuplet: Iterable[Glyph]) -> bool:
    words = [glyph.beams[0] if glyph.beams else "" for glyph in tuplet]
    return words[0] == "begin" and words[-1] == "end" and set(words[1:-1]) <= {"continue"}
