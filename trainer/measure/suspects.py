"""Who may be to blame: moves, limbs, unisons and changes of note value, as sets of strokes.

A suspect's `strokes` is True for each target it takes part in, parallel to the frame:

- *hand*, *foot*: every stroke of that limb;
- *move*: the arrivals of a hand from one voice to another;
- *unison*: a foot's strokes that have a hand's beside them, where the foot plays alone as well;
- *change*: the first two strokes of hands in a new note value.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.frame import LIMBS, groups

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.measure.frame import Bools, Frame, Ints

HANDS = (LIMBS.index("RH"), LIMBS.index("LH"))
FEET = (LIMBS.index("RF"), LIMBS.index("LF"))
AFTER_CHANGE = 2


@dataclass(frozen=True, slots=True)
class Suspect:
    """A set of strokes under one name. `limb`, `start` and `end` say what a drill is built of.

    `start` and `end` are voices for a move, note values for a change, empty otherwise.
    """

    kind: str
    name: str
    limb: str = ""
    start: str = ""
    end: str = ""
    strokes: Bools = field(default_factory=lambda: np.zeros(0, dtype=np.bool_), compare=False)


def suspects(frame: Frame) -> list[Suspect]:
    """Return every suspect of a take; each has at least one stroke."""
    return [*_limbs(frame), *_moves(frame), *_unisons(frame), *_changes(frame)]


def _limbs(frame: Frame) -> Iterator[Suspect]:
    for limb in (*HANDS, *FEET):
        strokes = frame.main & (frame.limb == limb)
        if strokes.any():
            name = LIMBS[limb]
            yield Suspect("hand" if limb in HANDS else "foot", name, name, strokes=strokes)


def _moves(frame: Frame) -> Iterator[Suspect]:
    voices = frame.names["voice"]
    for hand in HANDS:
        strokes = np.flatnonzero(frame.main & (frame.limb == hand))
        before, after = strokes[:-1], strokes[1:]
        moved = (frame.row[before] == frame.row[after]) & (
            frame.voice[before] != frame.voice[after]
        )
        kind = frame.voice[before] * len(voices) + frame.voice[after]
        for code, those in groups(kind, moved):
            start, end = (voices[one] for one in divmod(code, len(voices)))
            name = f"{LIMBS[hand]} {start} to {end}"
            mask = _mask(frame, after[those])
            yield Suspect("move", name, LIMBS[hand], start, end, mask)


def _unisons(frame: Frame) -> Iterator[Suspect]:
    hands = np.flatnonzero(frame.main & ~frame.foot)
    keys = frame.row * 1e9 + frame.beat
    beside = np.isin(keys, keys[hands])
    for foot in FEET:
        strokes = frame.main & (frame.limb == foot)
        together = strokes & beside
        if together.any() and (strokes & ~beside).any():
            name = LIMBS[foot]
            yield Suspect("unison", f"{name} with a hand", name, strokes=together)


def _changes(frame: Frame) -> Iterator[Suspect]:
    hands = np.flatnonzero(frame.main & ~frame.foot)
    value, row = frame.value[hands], frame.row[hands]
    fresh = (row[1:] == row[:-1]) & (value[1:] != value[:-1])
    values = frame.names["value"]
    for code, those in groups(value[:-1] * len(values) + value[1:], fresh):
        start, end = (values[one] for one in divmod(code, len(values)))
        first = those + 1
        found = [hands[np.minimum(first + away, len(hands) - 1)] for away in range(AFTER_CHANGE)]
        mask = _mask(frame, np.concatenate(found))
        yield Suspect("change", f"{start} to {end}", "", start, end, mask)


def _mask(frame: Frame, indexes: Ints) -> Bools:
    mask = np.zeros(len(frame.main), dtype=np.bool_)
    mask[indexes] = True
    return mask
