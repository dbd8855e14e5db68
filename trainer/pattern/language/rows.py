"""Written rows, and the foot ostinatos of the trade by name.

A row is a grid of steps on one voice, or one voice that goes along with another.

Ostinatos: samba and bossa nova after a percussion textbook's page on samba and Tom Tom Magazine
(2011); tumbao's rhythm after Wikipedia, "Tumbao". The rest, and which foot plays what, is common
practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.voices import ROW, VOICES
from trainer.pattern.model import FEET, FOOT_LIMB, HANDS, Level, Limb, Note, NoteValue, Sign

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from fractions import Fraction

    from trainer.pattern.language.spelling import Spot, Stroke


@dataclass(frozen=True, slots=True)
class Ostinato:
    """One ostinato: its step's note value and a grid for each foot voice."""

    name: str
    title: str
    value: str
    rows: dict[str, str] = field(default_factory=dict)


_ROWS = (
    Ostinato("samba", "samba", "16", {"kick": "x..xx..x", "pedal": "..x...x."}),
    Ostinato("bossa", "bossa nova", "8", {"kick": "x..xx..x", "pedal": "..x...x."}),
    Ostinato("tumbao", "tumbao", "8", {"kick": "...x..x.", "pedal": "..x...x."}),
    Ostinato("tresillo", "tresillo", "8", {"kick": "x..x..x.", "pedal": "..x...x."}),
    Ostinato("songo", "songo", "16", {"kick": "......x.....x...", "pedal": "x...x...x...x..."}),
    Ostinato("baiao", "baião", "16", {"kick": "x..x..x.", "pedal": "..x...x."}),
    Ostinato("quarters", "quarters, hat on 2 and 4", "4", {"kick": "xx", "pedal": ".x"}),
    Ostinato("four", "kick on every beat", "4", {"kick": "x"}),
    Ostinato("half-time", "half-time", "8", {"kick": "x.......", "pedal": "x.x.x.x."}),
    Ostinato("offbeats", "quarters, hat on every and", "8", {"kick": "x.", "pedal": ".x"}),
    Ostinato("pedal-quarters", "hat on every beat", "4", {"pedal": "x"}),
    Ostinato("pedal-2-4", "hat on 2 and 4", "4", {"pedal": ".x"}),
    Ostinato("waltz", "kick on 1, hat on 2 and 3", "4", {"kick": "x..", "pedal": ".xx"}),
    Ostinato("son-clave-3-2", "left-foot son clave 3-2", "8", {"pedal": "x..x..x...x.x..."}),
    Ostinato("son-clave-2-3", "left-foot son clave 2-3", "8", {"pedal": "..x.x...x..x..x."}),
    Ostinato("rumba-clave-3-2", "left-foot rumba clave 3-2", "8", {"pedal": "x..x...x..x.x..."}),
    Ostinato("double-kick", "both kicks in turn", "16", {"kick": "x.", "kick2": ".x"}),
)

OSTINATOS: dict[str, Ostinato] = {row.name: row for row in _ROWS}


LEADERS = ("hands", "right hand", "left hand", "accents")
"""Who a foot may go along with, beside any voice."""

OTHER_HAND: dict[Limb | None, Limb] = {Limb.RH: Limb.LH, Limb.LH: Limb.RH}
_OTHER = OTHER_HAND | {Limb.RF: Limb.LF, Limb.LF: Limb.RF}
_HAND = {"R": Limb.RH, "L": Limb.LH}


@dataclass(frozen=True, slots=True)
class Row:
    """A grid on one spot, going round: one cell a step of `value`, None for a rest.

    `lines` are the steps before which a bar line is written, `where` is its key.
    A `loose` row (a named ostinato) may come round across the bar lines; a written one has to fill
    its bars.
    """

    spot: Spot
    cells: tuple[Sign | None, ...]
    value: NoteValue
    where: str
    lines: tuple[int, ...] = ()
    loose: bool = False

    @property
    def length(self) -> Fraction:
        """One round in quarter notes."""
        return len(self.cells) * self.value.length


@dataclass(frozen=True, slots=True)
class Follower:
    """A voice that strikes together with `leader`: a voice or one of LEADERS."""

    spot: Spot
    leader: str
    where: str


@dataclass(frozen=True, slots=True)
class WrittenStroke:
    """A note of a row before its hand and its grace strokes are known."""

    note: Note
    graces: int = 0


def row_count(row: Row, length: Fraction) -> int:
    """Return how many strokes a row has over a length, without laying them out (at least)."""
    return math.ceil(length / row.length) * sum(cell is not None for cell in row.cells)


def lay_row(row: Row, start: Fraction, end: Fraction) -> list[WrittenStroke]:
    """Return the strokes of a row, going round from start until end."""
    found = []
    step = row.value.length
    struck = [(place, cell) for place, cell in enumerate(row.cells) if cell is not None]
    for turn in range(math.ceil((end - start) / row.length)):
        for place, cell in struck:
            beat = start + (turn * len(row.cells) + place) * step
            if beat < end:
                found.append(_written(row, beat, cell))
    return found


def follow(follower: Follower, notes: Iterable[Note]) -> list[Note]:
    """Return a stroke of the follower at every beat its leader strikes."""
    limb = FOOT_LIMB.get(follower.spot.voice)
    beats: dict[Fraction, str] = {}
    for note in notes:
        if note.grace == 0 and _leads(follower.leader, note):
            beats.setdefault(note.beat, note.value)
    spot = follower.spot
    return [
        Note(beat, spot.voice, limb, zone=spot.zone, value=value) for beat, value in beats.items()
    ]


def with_limbs(
    rows: Sequence[WrittenStroke], fixed: Sequence[Note], sticking: dict[Fraction, Stroke] | None
) -> list[Note]:
    """Return the rows' notes with hands and grace strokes.

    A sticking names the hand at each beat; without one the hands strictly alternate from the
    right. Where two voices sound together the upper one of the grid takes the right hand. Hands
    that `fixed` notes keep busy are left alone; a note no hand is left for gets none.
    """
    busy: dict[Fraction, set[Limb | None]] = {}
    for note in fixed:
        busy.setdefault(note.beat, set()).add(note.limb)
    ordered = sorted(rows, key=lambda one: (one.note.beat, ROW[one.note.voice]))
    found: list[Note] = []
    turn = Limb.RH
    for beat, group in groupby(ordered, key=lambda one: one.note.beat):
        together = list(group)
        taken = busy.get(beat, set()) | {one.note.limb for one in together}
        open_notes = [one for one in together if one.note.limb is None]
        free = [limb for limb in HANDS if limb not in taken]
        if sticking is not None:
            free = [limb for limb in _named(sticking.get(beat)) if limb in free]
        elif len(open_notes) == 1 and turn in free:
            free = [turn]
        if open_notes and free:
            turn = _OTHER[free[0]]
        hands = iter(free)
        for one in together:
            note = one.note
            if note.limb is None and (limb := next(hands, None)):
                note = replace(note, limb=limb)
            found += _with_graces(note, one.graces) if one.graces else [note]
    return found


def infers(rows: Iterable[WrittenStroke]) -> bool:
    """Return whether any hand note of the rows has no hand written."""
    return any(one.note.limb is None for one in rows)


def _named(stroke: Stroke | None) -> tuple[Limb, ...]:
    if stroke is None or stroke.who == "-":
        return ()
    return HANDS if stroke.who == "B" else (_HAND[stroke.who],)


def _written(row: Row, beat: Fraction, cell: Sign) -> WrittenStroke:
    voice = row.spot.voice
    limb = _HAND.get(cell.hand) or FOOT_LIMB.get(voice)
    zone = row.spot.zone or cell.zone
    note = Note(beat, voice, limb, cell.level, zone, row.value.name, buzz=cell.buzz)
    return WrittenStroke(note, cell.graces)


def _with_graces(note: Note, graces: int) -> list[Note]:
    other = _OTHER[note.limb] if note.limb else None
    soft = replace(note, limb=other, level=Level.NORMAL, buzz=False)
    return [note, *(replace(soft, grace=place) for place in range(graces, 0, -1))]


def _leads(leader: str, note: Note) -> bool:
    if leader == "hands":
        return note.limb in HANDS
    if leader == "right hand":
        return note.limb == Limb.RH
    if leader == "left hand":
        return note.limb == Limb.LH
    if leader == "accents":
        return note.level == Level.ACCENT and note.limb not in FEET
    return note.voice == leader


def check_leader(leader: str) -> str:
    """Return who a foot goes along with, or raise BadInput."""
    if leader not in LEADERS and leader not in VOICES:
        raise BadInput(
            f'"same as {leader[:24]}" names nobody',
            fix=f"name a voice, or one of {', '.join(LEADERS)}",
        )
    return leader
