"""Lays a section out in time: sticking over path over feet, at any note value, in any meter.

A section is as long as it takes for everything in it to come round together, unless its length is
written. All strokes are counted before the first one is laid out, so that a section that explodes
is refused at once. Faults carry the key they come from in `where`; beats are quarter notes.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.pattern.hands import Hands, lay_hands, rounds, step_count
from trainer.pattern.model import Bar, Meter, Note, Section, note_order
from trainer.pattern.rows import Follower, Row, follow, infers, lay_row, row_count, with_limbs
from trainer.pattern.tables import MAX_BARS, MAX_STROKES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.spelling import Stroke
    from trainer.pattern.tables import NoteValue

ALTERNATE = "no sticking is written: the hands strictly alternate"
LONG_ROUND = 64
"""Bars after which a combination that has not come round wants its length written."""


@dataclass(frozen=True, slots=True)
class Block:
    """A section before it is laid out. `meters` go round bar by bar; `length` is in bars."""

    title: str
    meters: tuple[Meter, ...]
    length: int | None = None
    times: int = 1
    hands: Hands | None = None
    rows: tuple[Row, ...] = ()
    followers: tuple[Follower, ...] = ()
    row_sticking: tuple[Stroke, ...] = ()
    row_value: NoteValue | None = None
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Laid:
    """A section laid out once, from beat 0: its bars, notes and parts, and what was assumed."""

    bars: tuple[Bar, ...]
    notes: tuple[Note, ...]
    sections: tuple[Section, ...]
    assumed: tuple[str, ...] = ()

    @property
    def length(self) -> Fraction:
        """The length in quarter notes."""
        return self.bars[-1].end


def lay_out(block: Block) -> Laid:
    """Return the section laid out once; raise BadInput where its parts do not go together."""
    bars = _bars(block)
    start, end = bars[0].start, bars[-1].end
    _refuse_explosion(block, bars)
    hands, marks = lay_hands(block.hands, bars) if block.hands else ([], [])
    written = [one for row in block.rows for one in lay_row(row, start, end)]
    sticking = _row_hands(block, start, end)
    notes = hands + with_limbs(written, hands, sticking)
    assumed = block.assumed
    if infers(written) and not block.row_sticking and ALTERNATE not in assumed:
        assumed += (ALTERNATE,)
    for follower in block.followers:
        notes += follow(follower, notes)
    notes.sort(key=note_order)
    _refuse_doubles(notes)
    return Laid(bars, tuple(notes), _sections(block, bars, notes, marks), assumed)


def repeated(laid: Laid, times: int, start: Fraction, first_bar: int) -> Laid:
    """Return the section moved to a beat and a bar number, written out `times` times."""
    shifts = [start + turn * laid.length for turn in range(times)]
    bars = tuple(replace(bar, start=bar.start + by) for by in shifts for bar in laid.bars)
    notes = tuple(replace(note, beat=note.beat + by) for by in shifts for note in laid.notes)
    count = len(laid.bars)
    if len(laid.sections) == 1:
        one = laid.sections[0]
        whole = replace(one, first_bar=first_bar, bar_count=count * times, times=times)
        return Laid(bars, notes, (whole,), laid.assumed)
    sections = tuple(
        replace(section, first_bar=first_bar + turn * count + section.first_bar)
        for turn in range(times)
        for section in laid.sections
    )
    return Laid(bars, notes, sections, laid.assumed)


def _bars(block: Block) -> tuple[Bar, ...]:
    round_ = sum((meter.length for meter in block.meters), Fraction(0))
    if block.length is None:
        count = int(_whole_round(block, round_) / round_) * len(block.meters)
    else:
        count = block.length
    if count * block.times > MAX_BARS:
        raise BadInput(
            f"this makes {count * block.times} bars, more than {MAX_BARS}",
            where="length",
            mend="write a smaller length or fewer times",
        )
    bars, start = [], Fraction(0)
    for index in range(count):
        bars.append(Bar(start, block.meters[index % len(block.meters)]))
        start = bars[-1].end
    _check_climb(block, bars)
    return tuple(bars)


def _whole_round(block: Block, bars: Fraction) -> Fraction:
    """Return how long the section takes to come round, checking that what is written fills bars."""
    spans = [bars]
    if block.hands:
        if not block.hands.climb:
            _check_value(block, bars)
        try:
            sticking, path = rounds(block.hands, block.meters)
        except BadInput as fault:
            raise fault.at("hands.orders") from None
        if not block.hands.climb:
            _check_fills("hands.sticking", "sticking", sticking, block, bars)
        spans += [sticking, path]
    for row in block.rows:
        if not row.loose:
            _check_fills(row.where, "grid", row.length, block, bars)
        spans.append(row.length)
    whole = _common(spans)
    if whole > LONG_ROUND * bars and whole > 2 * max(spans):
        raise BadInput(
            f"sticking, path and feet come round together only after {whole / bars} bars",
            where="length",
            mend="write how many bars to play, such as length = 8",
        )
    return whole


def _check_value(block: Block, bars: Fraction) -> None:
    """Refuse an even note value that does not divide the bar."""
    assert block.hands
    value = block.hands.values[0]
    if len(block.hands.values) == 1 and (bars / value.length).denominator != 1:
        raise BadInput(
            f"the note value {value.name} does not fit {_meter_words(block)}: "
            f"{_mixed(bars / value.length)} of it make a bar",
            where="hands.value",
            mend="choose another value, or write a length to let it run over the bar lines",
        )


def _check_climb(block: Block, bars: Sequence[Bar]) -> None:
    """Refuse a climb with a value that does not divide its bar."""
    if not block.hands or not block.hands.climb:
        return
    values = block.hands.values
    for index, bar in enumerate(bars[: math.lcm(len(values), len(block.meters))]):
        value = values[index % len(values)]
        fits = bar.meter.length / value.length
        if fits.denominator != 1:
            raise BadInput(
                f"the note value {value.name} does not fit {bar.meter}: "
                f"{_mixed(fits)} of it make a bar",
                where="hands.value",
                mend="leave it out of the climb, or change the meter",
            )


def _check_fills(where: str, what: str, length: Fraction, block: Block, bars: Fraction) -> None:
    """Refuse what neither goes into the bars a whole number of times nor fills several of them."""
    ratio = bars / length
    if 1 in (ratio.denominator, ratio.numerator):
        return
    rounds_of_bars = _common([bars, length]) / bars * len(block.meters)
    raise BadInput(
        f"the {what} is {_mixed(length)} quarter notes long and does not fill "
        f"{_meter_words(block)} ({_mixed(bars)} quarter notes)",
        where=where,
        mend=f"add or drop strokes, or write length = {rounds_of_bars}"
        " to let it run over the bar lines until it comes round",
    )


def _refuse_explosion(block: Block, bars: Sequence[Bar]) -> None:
    length = bars[-1].end
    count = step_count(block.hands, bars) if block.hands else 0
    count += sum(row_count(row, length) for row in block.rows)
    if count * block.times > MAX_STROKES:
        raise BadInput(
            f"this makes {count * block.times} strokes, more than {MAX_STROKES}",
            where="length" if block.length else "hands",
            mend="make it shorter or repeat it fewer times",
        )


def _refuse_doubles(notes: Sequence[Note]) -> None:
    """Refuse the same stroke written in two places (both hands on one drum are two strokes)."""
    for one, two in pairwise(notes):
        same = one.grace == two.grace == 0 and one.beat == two.beat and one.voice == two.voice
        if same and one.zone == two.zone and one.limb in (two.limb, None):
            raise BadInput(
                f"the {one.voice} is written twice at beat {_mixed(one.beat + 1)} of the section",
                where=one.voice,
                mend="take one of the two out",
            )


def _row_hands(block: Block, start: Fraction, end: Fraction) -> dict[Fraction, Stroke] | None:
    if not block.row_sticking or not block.row_value:
        return None
    step = block.row_value.length
    count = math.ceil((end - start) / step)
    size = len(block.row_sticking)
    return {start + at * step: block.row_sticking[at % size] for at in range(count)}


def _sections(
    block: Block, bars: Sequence[Bar], notes: Sequence[Note], marks: Sequence[tuple[Fraction, str]]
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
        low = bisect_left(notes, start, key=_beat)
        high = bisect_left(notes, end, key=_beat)
        turns.append([replace(note, beat=note.beat - start) for note in notes[low:high]])
    return each if all(turn == turns[0] for turn in turns) else 1


def _beat(note: Note) -> Fraction:
    return note.beat


def _common(lengths: Sequence[Fraction]) -> Fraction:
    """Return the shortest time in which every length comes round."""
    scale = math.lcm(*(length.denominator for length in lengths))
    return Fraction(math.lcm(*(int(length * scale) for length in lengths)), scale)


def _meter_words(block: Block) -> str:
    return f"a bar of {block.meters[0]}" if len(block.meters) == 1 else "the round of meters"


def _mixed(number: Fraction) -> str:
    """Return a fraction as people write it: 10 2/3."""
    whole, rest = divmod(number, 1)
    return f"{whole} {rest}" if whole and rest else str(rest or whole)
