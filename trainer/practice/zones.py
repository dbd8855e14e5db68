"""Where on its pad a stroke landed, held against what is written: the head for the rim, and so on.

The outcome stays `played` (only a rim for a head has an outcome of its own); this tells the zones.
A zone that the kit cannot send is never asked for. Where the pattern names no zone, the ordinary
one is meant; bow and edge of a cymbal are then alike. The edge of a hi-hat tells nothing about
open or closed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.voices import full_zone
from trainer.practice.matcher import RIMS

if TYPE_CHECKING:
    from trainer.kit.hits import Hit
    from trainer.pattern.model import Note

ALIKE = frozenset(("bow", "edge"))
RIMS_FOR_HEADS = tuple(f"{rim} for head" for rim in RIMS)
"""What has an outcome of its own, as `instead` says it."""

OPENNESS = frozenset(("open", "closed"))


def can_be_told(note: Note, hit: Hit) -> bool:
    """Return whether a hit on the note's pad can say if it fell on the zone that is written."""
    written = full_zone(note.voice, note.zone)
    if hit.voice != note.voice or (hit.zones and written not in hit.zones):
        return False
    return not (note.voice == "hihat" and hit.zone == "edge" and written in OPENNESS)


def landed(note: Note, hit: Hit) -> str:
    """Return the zone a hit fell on: the one that is written, where it cannot be told from it."""
    written = full_zone(note.voice, note.zone)
    struck = full_zone(note.voice, hit.zone)
    alike = not note.zone and {written, struck} <= ALIKE
    return struck if can_be_told(note, hit) and not alike else written


def misplaced(note: Note, hit: Hit) -> bool:
    """Return whether the pattern names a zone out of the ordinary and the hit fell elsewhere."""
    written = full_zone(note.voice, note.zone)
    return written != full_zone(note.voice, "") and landed(note, hit) != written


def instead(note: Note, hit: Hit) -> str:
    """Return "head for rim" where a hit fell on another zone than is written, else nothing."""
    if hit.voice != note.voice:
        return ""
    written, struck = full_zone(note.voice, note.zone), landed(note, hit)
    return "" if struck == written else f"{struck} for {written}"
