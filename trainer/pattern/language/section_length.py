"""How long a section is, and whether its parts go together.

Everything here is counted before a single stroke is laid out, so a section that explodes costs
nothing. Each fault carries in `where` the key it comes from. Lengths are quarter notes.

A sticking of more than two steps, or a written grid, has to fill its bars: it goes into the round
of meters a whole number of times, or takes a whole number of them. Paths, named ostinatos and
stickings under orders may come round later than that, and everything may when the section's length
is written.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.pattern.language.feel import feel_faults
from trainer.pattern.language.hands import rounds, step_count
from trainer.pattern.language.rows import row_count
from trainer.pattern.language.spelling import rolled_value
from trainer.pattern.model import MAX_BARS, MAX_STROKES, NOTE_VALUES, Bar

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.pattern.language.feel import WrittenDynamic, WrittenSwing, WrittenTempo
    from trainer.pattern.language.hands import Hands
    from trainer.pattern.language.rows import Follower, Row
    from trainer.pattern.language.spelling import Stroke
    from trainer.pattern.model import Meter, NoteValue, Pattern

LONG_ROUND = 64
"""Bars after which a combination that has not come round wants its length written."""


@dataclass(frozen=True, slots=True)
class WrittenSection:
    """A section before it is laid out.

    `meters` go round bar by bar; `length` is in bars. `lead` "left" exchanges all its hands,
    "both" plays it once with each lead. `aimless` are keys of [hands] that nothing is written for.
    `taken` is another pattern that it plays instead of notes of its own.
    """

    title: str
    meters: tuple[Meter, ...]
    length: int | None = None
    times: int = 1
    hands: Hands | None = None
    lead: str = "right"
    aimless: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()
    followers: tuple[Follower, ...] = ()
    row_sticking: tuple[Stroke, ...] = ()
    row_value: NoteValue = NOTE_VALUES["16"]
    row_way: str = ""
    assumed: tuple[str, ...] = ()
    swing: WrittenSwing | None = None
    tempo: WrittenTempo | None = None
    dynamics: tuple[WrittenDynamic, ...] = ()
    taken: Pattern | None = None


def length_faults(block: WrittenSection) -> list[BadInput]:
    """Return everything that keeps the section from being laid out, the causes first."""
    found: list[BadInput] = []
    for check in (_aimless, _orders, _rolls, _climb, _value, _sticking, _grids):
        found += check(block)
    if not found:
        found += _size(block)
    if not found:
        found += feel_faults(block.swing, block.tempo, block.meters, bar_count(block))
        found += _tempo_twice(block)
    return found


def _tempo_twice(block: WrittenSection) -> Iterator[BadInput]:
    """Refuse a gradual change over a pattern that changes its tempo itself."""
    if block.taken and block.taken.tempo_changes and block.tempo and block.tempo.to is not None:
        yield BadInput(
            "the pattern that is taken changes its tempo itself",
            where="tempo",
            fix="write one tempo for the section",
        )


def section_bars(block: WrittenSection) -> tuple[Bar, ...]:
    """Return the bars of a section that is known to be without faults, from beat 0."""
    found, start = [], Fraction(0)
    for index in range(_bar_count(block)):
        found.append(Bar(start, block.meters[index % len(block.meters)]))
        start = found[-1].end
    return tuple(found)


def _bar_count(block: WrittenSection) -> int:
    if block.taken:
        return len(block.taken.bars)
    if block.length is not None:
        return block.length
    return int(_whole_round(block) / _meters_length(block)) * len(block.meters)


def climb_bars(block: WrittenSection) -> int:
    """Return the bars of as many climbs as it takes to reach every stop of the path."""
    assert block.hands
    _, length = rounds(block.hands, block.meters)
    return int(length / _meters_length(block)) * len(block.meters)


def _aimless(block: WrittenSection) -> Iterator[BadInput]:
    """Refuse keys of the hands beside feet or a grid when nothing of the hands is written."""
    for key in block.aimless:
        yield BadInput(
            f"there is no line of the hands for {key} to change",
            where=f"hands.{key}",
            fix='write one, such as sticking = "R L"',
        )


def _orders(block: WrittenSection) -> Iterator[BadInput]:
    try:
        if block.hands:
            block.hands.stops()
    except BadInput as fault:
        fault.at("hands.orders")
        yield fault


def _rolls(block: WrittenSection) -> Iterator[BadInput]:
    """Refuse slashes on note values too short for them."""
    hands = block.hands
    most = max((stroke.slashes for stroke in hands.sticking), default=0) if hands else 0
    for value in dict.fromkeys(hands.values) if hands and most else ():
        if not rolled_value(value, most):
            yield BadInput(
                f"{2**most} strokes in the time of a {value.name} are no note value",
                where="hands.sticking",
                fix="write fewer slashes, a z for a buzz, or a longer value",
            )


def _climb(block: WrittenSection) -> Iterator[BadInput]:
    """Refuse the values of a climb that do not divide their bar, each once."""
    if not block.hands or not block.hands.climb:
        return
    values, reported = block.hands.values, set()
    count = block.length or math.lcm(len(values), len(block.meters))
    if count > MAX_BARS:
        yield BadInput(
            f"climb and meters come round together only after {count} bars, more than {MAX_BARS}",
            where="hands.value",
            fix="write how many bars to play, such as length = 8",
        )
        return
    for index in range(count):
        value, meter = values[index % len(values)], block.meters[index % len(block.meters)]
        fits = meter.length / value.length
        if fits.denominator != 1 and (value.name, meter) not in reported:
            reported.add((value.name, meter))
            yield BadInput(
                f"the note value {value.name} does not fit {meter}: {mixed(fits)} of it make a bar",
                where="hands.value",
                fix="leave it out of the climb, or change the meter",
            )


def _value(block: WrittenSection) -> Iterator[BadInput]:
    """Refuse an even note value that does not divide the bars."""
    hands = block.hands
    if block.length is not None or not hands or hands.climb or len(hands.values) > 1:
        return
    value = hands.values[0]
    fits = _meters_length(block) / value.length
    if fits.denominator != 1:
        yield BadInput(
            f"the note value {value.name} does not fit {_meter_words(block)}: "
            f"{mixed(fits)} of it make {_one_round(block)}",
            where="hands.value",
            fix="choose another value, or write a length to let it run over the bar lines",
        )


def _sticking(block: WrittenSection) -> Iterator[BadInput]:
    hands = block.hands
    if block.length is not None or not hands or hands.climb or hands.order_count is not None:
        return
    # One or two steps simply continue (nothing can be miscounted); an odd value was reported.
    if len(hands.sticking) > 2 and not list(_value(block)):
        words = f"the sticking has {_steps(len(hands.sticking))}"
        yield from _unfilled("hands.sticking", words, hands.round_length(), block)


def _grids(block: WrittenSection) -> Iterator[BadInput]:
    for row in block.rows:
        if not row.loose and block.length is None:
            words = f"the grid has {_steps(len(row.cells))}"
            yield from _unfilled(row.where, words, row.length, block)
        yield from _bar_lines(row, block)
    if block.row_sticking and block.length is None:
        words = f"the sticking has {_steps(len(block.row_sticking))}"
        yield from _unfilled("bars.sticking", words, _row_sticking(block), block)


def _unfilled(
    where: str, words: str, length: Fraction, block: WrittenSection
) -> Iterator[BadInput]:
    """Refuse what neither goes into the bars a whole number of times nor fills several of them."""
    bars = _meters_length(block)
    ratio = bars / length
    if 1 in (ratio.denominator, ratio.numerator):
        return
    until = common_length([bars, length]) / bars * len(block.meters)
    yield BadInput(
        f"{words}, {mixed(length)} quarter notes, and does not fill {_meter_words(block)} "
        f"({mixed(bars)} quarter notes)",
        where=where,
        fix=f"add or drop strokes, or write length = {until} to let it run over the bar lines",
    )


def _bar_lines(row: Row, block: WrittenSection) -> Iterator[BadInput]:
    """Refuse a bar line of a grid that is not between two bars."""
    edges, start = set(), Fraction(0)
    for meter in block.meters:
        edges.add(start)
        start += meter.length
    for step in row.lines:
        if step * row.value.length % start not in edges:
            yield BadInput(
                f"the bar line after step {step} is not at the end of a bar",
                where=row.where,
                fix="count the steps of that bar",
            )
            return


def _size(block: WrittenSection) -> Iterator[BadInput]:
    """Refuse sections that never come round or are too long to hold."""
    if block.length is None and not block.taken:
        spans, once = _spans(block), _meters_length(block)
        whole = common_length(spans)
        if whole > LONG_ROUND * once and whole > 2 * max(spans):
            after = mixed(whole / once * len(block.meters))
            yield BadInput(
                f"sticking, path and feet come round together only after {after} bars",
                where="length",
                fix="write how many bars to play, such as length = 8",
            )
            return
    count = bar_count(block)
    if count > MAX_BARS:
        yield BadInput(
            f"this makes {count} bars, more than {MAX_BARS}",
            where="length" if block.length else "times" if block.times > 1 else None,
            fix="write a smaller length or fewer times",
        )
        return
    strokes = stroke_count(block)
    if strokes > MAX_STROKES:
        yield BadInput(
            f"this makes {strokes} strokes, more than {MAX_STROKES}",
            where="length" if block.length else "hands",
            fix="make it shorter or repeat it fewer times",
        )


def bar_count(block: WrittenSection) -> int:
    """Return how many bars a section has with its repeats and leads."""
    return _bar_count(block) * _turns(block)


def stroke_count(block: WrittenSection) -> int:
    """Return how many strokes a section has with its repeats and leads; rests count as strokes."""
    once = len(block.taken.notes) if block.taken else _step_count(block)
    return once * _turns(block)


def _turns(block: WrittenSection) -> int:
    """Return how often a section is played, once for each lead."""
    return block.times * (2 if block.lead == "both" else 1)


def _step_count(block: WrittenSection) -> int:
    """Return how many steps the hands and strokes the rows have."""
    laid = section_bars(block)
    strokes = 0
    if block.hands:
        sticking = block.hands.sticking
        rolled = sum(2**stroke.slashes for stroke in sticking)
        strokes = step_count(block.hands, laid) * rolled // len(sticking)
    return strokes + sum(row_count(row, laid[-1].end) for row in block.rows)


def _whole_round(block: WrittenSection) -> Fraction:
    return common_length(_spans(block))


def _spans(block: WrittenSection) -> list[Fraction]:
    """Return the time each part of the section takes to come round."""
    spans = [_meters_length(block), *(row.length for row in block.rows)]
    if block.row_sticking:
        spans.append(_row_sticking(block))
    return spans + list(rounds(block.hands, block.meters)) if block.hands else spans


def _meters_length(block: WrittenSection) -> Fraction:
    """Return one round of the meters in quarter notes."""
    return sum((meter.length for meter in block.meters), Fraction(0))


def _row_sticking(block: WrittenSection) -> Fraction:
    """Return one round of the hands written below the grid, in quarter notes."""
    return len(block.row_sticking) * block.row_value.length


def _steps(count: int) -> str:
    return f"{count} step{'' if count == 1 else 's'}"


def _one_round(block: WrittenSection) -> str:
    return "a bar" if len(block.meters) == 1 else "the round of meters"


def _meter_words(block: WrittenSection) -> str:
    return f"a bar of {block.meters[0]}" if len(block.meters) == 1 else "the round of meters"


def common_length(lengths: Sequence[Fraction]) -> Fraction:
    """Return the shortest time in which every length comes round."""
    scale = math.lcm(*(length.denominator for length in lengths))
    return Fraction(math.lcm(*(int(length * scale) for length in lengths)), scale)


def mixed(number: Fraction) -> str:
    """Return a fraction as people write it: 10 2/3."""
    whole, rest = divmod(number, 1)
    return f"{whole} {rest}" if whole and rest else str(rest or whole)
