"""Written rows, and the foot ostinatos of the trade by name.

A row is a grid of steps on one voice, or one voice that goes along with another.

Ostinatos: samba and bossa nova after a percussion textbook's page on samba and Tom Tom Magazine
(2011); tumbao's rhythm after Wikipedia, "Tumbao". The rest, and which foot plays what, is common
practice, no source.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.voices import ROW, VOICES
from trainer.pattern.handedness import OTHER_LIMB
from trainer.pattern.model import (
    FEET,
    FOOT_LIMB,
    HANDS,
    Level,
    Limb,
    Note,
    NoteValue,
    Sign,
    note_order,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from trainer.pattern.language.spelling import Spot, Stroke
    from trainer.pattern.model import Pattern


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

OTHER_HAND: dict[Limb | None, Limb] = {hand: OTHER_LIMB[hand] for hand in HANDS}
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


HANDS_ASSUMED = "hands: cymbals right, drums of a groove left, singles alternate"
"""What is assumed where no hand is written: how most right-handed drummers play it (common
practice)."""

CROSSING, OPEN_HANDED, ALTERNATING = "crossing", "open-handed", "alternating"
WAYS = (CROSSING, OPEN_HANDED, ALTERNATING)
"""How the hands share what no sticking gives them. Crossing: the right hand has the cymbals, the
left the drums between them. Open-handed: the same, but the left has the hi-hat and the right its
drums. Alternating: right and left in turn. Singles alternate in all of them."""

GROOVE_QUARTERS = 1
"""A drum between two cymbal strokes no further away than this is of a groove."""

SINGLES, SINGLES_QUARTERS = 3, Fraction(1, 3)
"""So many strokes on drums in a row, each so soon after the last one, are singles of two hands."""

_Step = tuple[Fraction, list[WrittenStroke]]
"""A beat and the strokes on it, the upper ones of the grid first."""


def with_limbs(
    rows: Sequence[WrittenStroke],
    fixed: Sequence[Note],
    sticking: dict[Fraction, Stroke] | None,
    way: str = "",
) -> list[Note]:
    """Return the rows' notes with hands and grace strokes.

    A sticking names the hand at each beat; without one `way` (one of WAYS) decides, and where that
    is not chosen either, it is crossing, marked as assumed. Of two voices that sound together the
    upper one of the grid takes the right hand. Hands that `fixed` notes keep busy are left alone;
    a note no hand is left for gets none, nor does a choke.
    """
    busy: dict[Fraction, set[Limb | None]] = {}
    for note in fixed:
        busy.setdefault(note.beat, set()).add(note.limb)
    chokes = [one.note for one in rows if one.note.choke]
    rows = [one for one in rows if not one.note.choke]
    ordered = sorted(rows, key=lambda one: (one.note.beat, ROW[one.note.voice]))
    steps = [(beat, list(group)) for beat, group in groupby(ordered, key=lambda one: one.note.beat)]
    leads = _lead_voices(steps) if sticking is None and way != ALTERNATING else {}
    found: list[Note] = []
    turn, soon = Limb.RH, Fraction(0)
    for beat, together in steps:
        taken = busy.get(beat, set()) | {one.note.limb for one in together}
        voices = [one.note.voice for one in together if one.note.limb is None]
        free = [limb for limb in HANDS if limb not in taken]
        if sticking is not None:
            free = [limb for limb in _named(sticking.get(beat)) if limb in free]
        elif beat in leads:
            lead = Limb.LH if way == OPEN_HANDED and leads[beat] == "hihat" else Limb.RH
            wish = OTHER_LIMB[lead] if voices and voices[0] in _DRUMS else lead
            free.sort(key=lambda limb: limb is not wish)
            # A fill begins with the right hand, unless that has only just left a cymbal.
            turn, soon = Limb.RH, beat + SINGLES_QUARTERS
        elif len(voices) == 1 and voices[0] in _DRUMS | _LEADS:
            if beat < soon:
                turn, soon = Limb.LH, Fraction(0)
            free = [turn] if turn in free else free
            turn = OTHER_LIMB[free[0]] if free else turn
        elif voices and free:
            turn = OTHER_LIMB[free[0]]
        hands = iter(free)
        for one in together:
            note = one.note
            if note.limb is None and (limb := next(hands, None)):
                note = replace(note, limb=limb, hand_assumed=sticking is None and not way)
            found += _with_graces(note, one.graces) if one.graces else [note]
    return found + chokes


_DRUMS = frozenset(voice for voice in VOICES if voice.startswith(("snare", "tom", "floor")))
_LEADS = frozenset(VOICES) - _DRUMS - FOOT_LIMB.keys()
"""Voices that one hand leads a groove on: the cymbals, cowbell and tambourine."""


def _lead_voices(steps: Sequence[_Step]) -> dict[Fraction, str]:
    """Return the leading voice of each beat of a groove, of a cymbal or between two of them."""
    voices = {
        beat: {one.note.voice for one in together} & (_DRUMS | _LEADS) for beat, together in steps
    }
    struck = [beat for beat in voices if voices[beat]]
    leads = {beat: min(on, key=ROW.__getitem__) for beat in struck if (on := voices[beat] & _LEADS)}
    found = dict(leads)
    cymbals = [*leads]
    after = 0
    for run in _runs([beat for beat in struck if beat not in leads]):
        for beat in run if len(run) < SINGLES else ():
            while after < len(cymbals) and cymbals[after] < beat:
                after += 1
            around = cymbals[max(0, after - 1) : after + 1]
            if (
                len(around) == 2
                and after
                and (beat - around[0] <= GROOVE_QUARTERS and around[1] - beat <= GROOVE_QUARTERS)
            ):
                found[beat] = leads[around[0]]
    return found


def _runs(beats: Sequence[Fraction]) -> list[list[Fraction]]:
    """Return beats in rows, each beat soon after the one before it."""
    found: list[list[Fraction]] = []
    for beat in beats:
        if found and beat - found[-1][-1] <= SINGLES_QUARTERS:
            found[-1].append(beat)
        else:
            found.append([beat])
    return found


def with_way(pattern: Pattern, way: str) -> Pattern:
    """Return the pattern with the hands that were assumed shared in a way of WAYS, as chosen.

    Raises BadInput for another way.
    """
    if way not in WAYS:
        raise BadInput(f'"{way[:24]}" is no way to share hands', fix=f"write {', '.join(WAYS)}")
    mains = [note for note in pattern.notes if note.hand_assumed and not note.grace]
    graces = Counter(
        (note.beat, note.voice) for note in pattern.notes if note.hand_assumed and note.grace
    )
    rows = [
        WrittenStroke(
            replace(note, limb=None, hand_assumed=False), graces.pop((note.beat, note.voice), 0)
        )
        for note in mains
    ]
    fixed = [note for note in pattern.notes if not note.hand_assumed]
    notes = sorted((*fixed, *with_limbs(rows, fixed, None, way)), key=note_order)
    assumed = tuple(text for text in pattern.assumed if text != HANDS_ASSUMED)
    return replace(pattern, notes=tuple(notes), assumed=assumed)


def infers(rows: Iterable[WrittenStroke]) -> bool:
    """Return whether any hand note of the rows has no hand written."""
    return any(one.note.limb is None and not one.note.choke for one in rows)


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
    other = OTHER_LIMB[note.limb] if note.limb else None
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
