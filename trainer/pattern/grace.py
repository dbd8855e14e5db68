"""How far a grace stroke stands before its main stroke.

A flam's spacing is a matter of touch (common practice: some 20 to 50 ms); it never takes more than
a third of the step it stands in, so fast flams stay in order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.pattern.tables import NOTE_VALUES

if TYPE_CHECKING:
    from trainer.pattern.model import Note

GRACE_S = 0.030
"""Written distance of the nearest grace stroke before its main stroke, in seconds."""


def grace_lead_s(note: Note, quarter_s: float) -> float:
    """Return the seconds a grace stroke leads by: two share the third of a step."""
    room = float(NOTE_VALUES[note.value].length) * quarter_s / 3
    return min(note.grace * GRACE_S, room * note.grace / 2 if note.grace > 1 else room)
