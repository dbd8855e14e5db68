"""The tempo a file suggests, kept within what can be practised."""

from __future__ import annotations

from fractions import Fraction

LOWEST, HIGHEST = 20.0, 400.0


def playable(written: tuple[float, Fraction] | None) -> tuple[float, Fraction, list[str]]:
    """Return BPM, the note it counts (quarter notes), and what was assumed about them."""
    if written is None:
        return 60.0, Fraction(1), ["tempo: 60 BPM, as the file has none"]
    bpm, unit = written
    kept = min(max(bpm, LOWEST), HIGHEST)
    if kept != bpm:
        return kept, unit, [f"tempo: {kept:g} BPM, as the file's {bpm:g} is out of range"]
    return bpm, unit, []
