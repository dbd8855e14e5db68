"""Lays a section out in time: sticking over path over feet, at any note value, in any meter.

A section is as long as it takes for everything in it to come round together, unless its length is
written (`trainer.pattern.language.section_length`). Faults carry the key they come from in
`where`; beats are quarter notes.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar

from trainer.errors import BadInput
from trainer.pattern.language import feel, section_length
from trainer.pattern.language.hands import LaidHands, lay_hands
from trainer.pattern.language.rows import (
    HANDS_ASSUMED,
    OTHER_HAND,
    Follower,
    follow,
    infers,
    lay_row,
    with_limbs,
)
from trainer.pattern.model import (
    Bar,
    Dynamic,
    Note,
    Section,
    Swing,
    TempoChange,
    beat_of,
    note_order,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

    from trainer.pattern.language.section_length import WrittenSection
    from trainer.pattern.language.spelling import Stroke
    from trainer.pattern.model import Pattern

ALTERNATE = "no sticking is written: the hands strictly alternate"


@dataclass(frozen=True, slots=True)
class LaidSection:
    """A section laid out once, from beat 0: its bars, notes and parts, and what was assumed."""

    bars: tuple[Bar, ...]
    notes: tuple[Note, ...]
    sections: tuple[Section, ...]
    assumed: tuple[str, ...] = ()
    swing: tuple[Swing, ...] = ()
    tempo_changes: tuple[TempoChange, ...] = ()
    dynamics: tuple[Dynamic, ...] = ()

    @property
    def length(self) -> Fraction:
        """The length in quarter notes."""
        return self.bars[-1].end


def lay_out(block: WrittenSection) -> LaidSection:
    """Return the section laid out once; raise BadInput where its parts do not go together."""
    for fault in section_length.length_faults(block):
        raise fault
    if block.taken:
        return _with_feel(block, _taken(block, block.taken))
    return _with_feel(block, _led(block, section_length.section_bars(block)))


def _taken(block: WrittenSection, pattern: Pattern) -> LaidSection:
    """Return another pattern as a section; its changes of tempo are in shares of its own tempo."""
    own = (TempoChange(pattern.bars[0].start, pattern.tempo), *pattern.tempo_changes)
    changes = (
        replace(one, tempo=one.tempo / pattern.tempo, to=one.to / pattern.tempo)
        for one in (own if pattern.tempo_changes else ())
    )
    whole = Section(block.title or pattern.title, 0, len(pattern.bars))
    return LaidSection(
        pattern.bars,
        pattern.notes,
        (whole,),
        pattern.assumed,
        pattern.swing,
        tuple(changes),
        pattern.dynamics,
    )


def _with_feel(block: WrittenSection, laid: LaidSection) -> LaidSection:
    """Return a section with its swing and dynamics; raise BadInput where swing tears strokes."""
    start, written = laid.bars[0].start, block.swing
    marks = tuple(feel.dynamics(block.dynamics, start, laid.length)) or laid.dynamics
    if not written:
        return replace(laid, dynamics=marks)
    swing = Swing(start, laid.length, written.value, written.share)
    if fault := feel.torn_strokes(swing, laid.bars, laid.notes):
        raise fault
    return replace(laid, swing=(swing,), dynamics=marks)


def _led(block: WrittenSection, bars: tuple[Bar, ...]) -> LaidSection:
    """Return the section over its bars, led as it is written: by one hand, or by each in turn."""
    if block.lead != "both":
        return _lay_out(block, bars, block.lead == "left")
    right, left = _lay_out(block, bars, False), _lay_out(block, bars, True)
    second = repeated(left, 1, right.length, len(bars))
    return LaidSection(
        right.bars + second.bars,
        right.notes + second.notes,
        _titled(right.sections, "right lead") + _titled(second.sections, "left lead"),
        right.assumed,
    )


def _titled(sections: Sequence[Section], words: str) -> tuple[Section, ...]:
    """Return sections with more words in their titles."""
    titles = (f"{section.title}, {words}" if section.title else words for section in sections)
    return tuple(replace(one, title=title) for one, title in zip(sections, titles, strict=True))


def _lay_out(block: WrittenSection, bars: tuple[Bar, ...], left: bool) -> LaidSection:
    """Return the section laid out over its bars, led as it is written or by the other hand."""
    start, end = bars[0].start, bars[-1].end
    hands = lay_hands(block.hands, bars) if block.hands else LaidHands()
    written = [one for row in block.rows for one in lay_row(row, start, end)]
    rows = with_limbs(written, hands.notes, _row_hands(block, start, end), block.row_way)
    if left:
        hands = lay_hands(block.hands.mirrored(), bars) if block.hands else hands
        rows = [replace(note, limb=OTHER_HAND.get(note.limb, note.limb)) for note in rows]
    notes = [*hands.notes, *rows]
    assumed = block.assumed + _cut_path(block, hands)
    if infers(written) and not (block.row_sticking or block.row_way):
        assumed += (HANDS_ASSUMED,)
    for follower in _leaders_first(block.followers):
        more = follow(follower, notes)
        if not more:
            raise BadInput(
                f'"same as {follower.leader}" has no stroke to go along with',
                where=follower.where,
                fix="name a voice or limb that plays in this section",
            )
        notes += more
    notes.sort(key=note_order)
    _refuse_doubles(notes)
    return LaidSection(bars, tuple(notes), _sections(block, bars, notes, hands.marks), assumed)


def _cut_path(block: WrittenSection, hands: LaidHands) -> tuple[str, ...]:
    """Return in words which stops of a climb's path its length leaves out.

    Raises BadInput where no length would reach them.
    """
    if not block.hands or not block.hands.climb or block.hands.order_count is not None:
        return ()
    drums = ", ".join(map(str, hands.missed))
    if not drums:
        return ()
    if block.length is None:
        raise BadInput(
            f"no stroke of the climb falls on {drums}",
            where="hands.path",
            fix='write per = "stroke", or a faster note value',
        )
    whole = section_length.climb_bars(block)
    return (f"length = {block.length} ends the path before {drums}; length = {whole} plays all",)


def _leaders_first(followers: Sequence[Follower]) -> list[Follower]:
    """Return followers so that one that another goes along with is laid out before it."""
    waiting = {follower.spot.voice for follower in followers}
    ready: list[Follower] = []
    left = list(followers)
    while left:
        free = [one for one in left if one.leader not in waiting] or left[:1]
        ready += free
        left = [one for one in left if one not in free]
        waiting -= {one.spot.voice for one in free}
    return ready


def repeated(laid: LaidSection, times: int, start: Fraction, first_bar: int) -> LaidSection:
    """Return the section moved to a beat and a bar number, written out `times` times."""
    if times == 1 and not start and not first_bar:
        return laid
    shifts = [start + turn * laid.length for turn in range(times)]
    moved = replace(
        laid,
        bars=tuple(replace(bar, start=bar.start + by) for by in shifts for bar in laid.bars),
        notes=tuple(replace(note, beat=note.beat + by) for by in shifts for note in laid.notes),
        swing=tuple(_moved(one, by) for by in shifts for one in laid.swing),
        tempo_changes=tuple(_moved(one, by) for by in shifts for one in laid.tempo_changes),
        dynamics=tuple(_moved(one, by) for by in shifts for one in laid.dynamics),
    )
    count = len(laid.bars)
    if len(laid.sections) == 1:
        one = laid.sections[0]
        whole = replace(one, first_bar=first_bar, bar_count=count * times, times=times)
        return replace(moved, sections=(whole,))
    sections = tuple(
        replace(section, first_bar=first_bar + turn * count + section.first_bar)
        for turn in range(times)
        for section in laid.sections
    )
    return replace(moved, sections=sections)


Stretch = TypeVar("Stretch", Swing, TempoChange, Dynamic)


def _moved(stretch: Stretch, by: Fraction) -> Stretch:
    end = None if stretch.end is None else stretch.end + by
    return replace(stretch, start=stretch.start + by, end=end)


def _refuse_doubles(notes: Sequence[Note]) -> None:
    """Refuse the same stroke written in two places (both hands on one drum are two strokes)."""
    for one, two in pairwise(notes):
        same = one.grace == two.grace == 0 and one.beat == two.beat and one.voice == two.voice
        if same and one.zone == two.zone and one.limb in (two.limb, None):
            beat = section_length.mixed(one.beat + 1)
            raise BadInput(
                f"the {one.voice} is written twice at beat {beat} of the section",
                where=one.voice,
                fix="take one of the two out",
            )


def _row_hands(
    block: WrittenSection, start: Fraction, end: Fraction
) -> dict[Fraction, Stroke] | None:
    if not block.row_sticking:
        return None
    step = block.row_value.length
    count = math.ceil((end - start) / step)
    size = len(block.row_sticking)
    return {start + at * step: block.row_sticking[at % size] for at in range(count)}


def _sections(
    block: WrittenSection,
    bars: Sequence[Bar],
    notes: Sequence[Note],
    marks: Sequence[tuple[Fraction, str]],
) -> tuple[Section, ...]:
    """Return a part for each order of the path where all of them begin with a bar, else one."""
    numbers = {bar.start: index for index, bar in enumerate(bars)}
    firsts = [numbers.get(beat) for beat, _ in marks]
    if len(firsts) < 2 or firsts[0] != 0 or None in firsts:
        return (Section(block.title, 0, len(bars)),)
    edges = [first for first in firsts if first is not None] + [len(bars)]
    each = block.hands.each if block.hands else 1
    return tuple(
        Section(title, first, last - first, _times(bars, notes, first, last, each))
        for (first, last), (_, title) in zip(pairwise(edges), marks, strict=True)
    )


def _times(bars: Sequence[Bar], notes: Sequence[Note], first: int, last: int, each: int) -> int:
    """Return `each` where the bars from first to last are the same music `each` times, else 1."""
    size, rest = divmod(last - first, each)
    if each == 1 or rest:
        return 1
    turns = []
    for turn in range(first, last, size):
        start, end = bars[turn].start, bars[turn + size - 1].end
        low = bisect_left(notes, start, key=beat_of)
        high = bisect_left(notes, end, key=beat_of)
        turns.append([replace(note, beat=note.beat - start) for note in notes[low:high]])
    return each if all(turn == turns[0] for turn in turns) else 1
