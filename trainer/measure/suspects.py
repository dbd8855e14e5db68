"""Who may be to blame: moves, limbs, unisons, note values and their changes, as sets of strokes.

A suspect's `strokes` is True for each target it takes part in, parallel to the frame:

- *hand*, *foot*: every stroke of that limb;
- *move*: the arrivals of a hand from one voice to another;
- *unison*: a foot's strokes that have a hand's beside them, where the foot plays alone as well;
- *value*: the hands' strokes of one note value, where they play several;
- *change*: the first two strokes of hands in a new note value that lasts twice as long at least;
- *changes*: the same for all changes to shorter, or to longer values together.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.frame import LIMBS, groups
from trainer.measure.stretches import AFTER_CHANGE, starts

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.measure.frame import Bools, Frame, Ints

SHORTER, LONGER = "to shorter note values", "to longer note values"
HANDS = (LIMBS.index("RH"), LIMBS.index("LH"))
FEET = (LIMBS.index("RF"), LIMBS.index("LF"))


@dataclass(frozen=True, slots=True)
class Suspect:
    """A set of strokes under one name. `limb`, `start` and `end` say what a drill is built of.

    `start` and `end` are voices for a move, note values for a value or a change (of several: the
    first and the last), empty otherwise.
    """

    kind: str
    name: str
    limb: str = ""
    start: str = ""
    end: str = ""
    strokes: Bools = field(default_factory=lambda: np.zeros(0, dtype=np.bool_), compare=False)


def suspects(frame: Frame) -> list[Suspect]:
    """Return every suspect of a take; each has at least one stroke."""
    return [*_limbs(frame), *_moves(frame), *_unisons(frame), *_values(frame), *_changes(frame)]


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


def _values(frame: Frame) -> Iterator[Suspect]:
    present = groups(frame.value, frame.main & ~frame.foot)
    # Of two, one late is the other early: the shorter one stands for both.
    for code, those in present[len(present) <= 2 :]:
        value = frame.names["value"][code]
        yield Suspect("value", f"value {value}", "", value, value, _mask(frame, those))


def _changes(frame: Frame) -> Iterator[Suspect]:
    hands = np.flatnonzero(frame.main & ~frame.foot)
    if not len(hands):
        return
    value, row, names = frame.value[hands], frame.row[hands], frame.names["value"]
    first = starts(value)
    lasts = np.diff([*first, len(hands)]) > 2 * AFTER_CHANGE
    first = first[lasts & (first > 0) & (row[first] == row[first - 1])]
    old, new = value[first - 1], value[first]

    def fresh(those: Ints) -> Bools:
        strokes = [hands[first[those] + away] for away in range(AFTER_CHANGE)]
        return _mask(frame, np.concatenate(strokes))

    for code, those in groups(old * len(names) + new, first > 0):
        start, end = (names[one] for one in divmod(code, len(names)))
        yield Suspect("change", f"{start} to {end}", "", start, end, fresh(those))
    # Codes count from the longest value on.
    for name, which in ((SHORTER, new > old), (LONGER, new < old)):
        both = sorted({*old[which].tolist(), *new[which].tolist()}, reverse=name == LONGER)
        if len(both) > 2:
            start, end = names[both[0]], names[both[-1]]
            yield Suspect("changes", name, "", start, end, fresh(np.flatnonzero(which)))


def _mask(frame: Frame, indexes: Ints) -> Bools:
    mask = np.zeros(len(frame.main), dtype=np.bool_)
    mask[indexes] = True
    return mask
