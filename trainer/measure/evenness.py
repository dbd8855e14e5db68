"""Evenness: the time from one stroke of the hands to the next, whatever the click does.

An interval's error is played minus written time between two neighbours among the strokes of the
hands (which are neighbours says `trainer.measure.stroke`); plus is too long.

- `spread`: standard deviation of those errors in ms; `relative`: the same in percent of the
  written interval. Strokes displaced independently by d give interval errors of 1.41 d. Hands that
  wander apart widen the intervals of both (`_spread`).
- `lope` (the limp): the long-short of alternate strokes in ms. Of three even strokes, right left
  right, the first interval minus the second; left right left with the sign turned. Plus: the left
  hand is late between two rights; minus: the right hand is late between two lefts.
- `changes`: where the note value changes, mean offset of the (at most) four strokes after the first
  stroke of the new value minus mean offset of the (at most) four up to and including it, in ms.
  Minus rushes into the new value, plus drags. The first stroke of a value is still timed by the
  old one, so it belongs to the old.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, mean, spread, spread_figure, spread_memory
from trainer.measure.stroke import one_value_apart
from trainer.measure.take_arrays import LEFT_HAND, RIGHT_HAND, indexes_by_code

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools, Floats, Ints

STROKES_AROUND_CHANGE = 4
"""How many strokes on each side of a change of note value are compared."""


@dataclass(frozen=True, slots=True)
class IntervalSpread:
    """How much intervals vary: in ms, and in percent of the written interval."""

    spread: Figure
    relative: Figure


@dataclass(frozen=True, slots=True)
class Evenness:
    """Evenness of the hands in the whole take, by note value, and at changes of note value.

    Changes are named by the old and the new value: "8 to 16".
    """

    spread: Figure
    relative: Figure
    lope: Figure
    by_value: dict[str, IntervalSpread]
    changes: dict[str, Figure]


def evenness(take: TakeArrays) -> Evenness:
    """Measure how even the hands are."""
    first, second = even_pairs(take)
    whole = _intervals(take, first, second)
    return Evenness(
        spread=whole.spread,
        relative=whole.relative,
        lope=mean(_limps(take, first, second), "ms", odds=None),
        by_value={
            take.name("value", code): _intervals(take, first[pairs], second[pairs])
            for code, pairs in indexes_by_code(
                take.value[first], np.ones(len(first), dtype=np.bool_)
            )
        },
        changes=_changes(take, hand_strokes(take)),
    )


def hand_strokes(take: TakeArrays) -> Ints:
    """Return the played strokes of the hands in order, one for each beat they meet on."""
    return _one_a_beat(take, np.flatnonzero(take.played & ~take.foot))


def _one_a_beat(take: TakeArrays, line: Ints) -> Ints:
    if not len(line):
        return line
    again = (np.diff(take.beat[line]) == 0) & (np.diff(take.row[line]) == 0)
    kept: Ints = line[np.concatenate([[True], ~again])]
    return kept


def even_pairs(take: TakeArrays) -> tuple[Ints, Ints]:
    """Return the first and second strokes of all neighbours, in time order of the first."""
    found = []
    for _, line in indexes_by_code(take.value, take.played & ~take.foot):
        line = _one_a_beat(take, line)
        first, second = line[:-1], line[1:]
        apart = take.time_s[second] - take.time_s[first]
        even = one_value_apart(apart, take.interval_s[first])
        even &= take.row[first] == take.row[second]
        found.append(np.stack([first[even], second[even]]))
    pairs = np.concatenate([np.zeros((2, 0), np.int64), *found], axis=1)
    first, second = pairs[:, np.argsort(pairs[0])]
    return first, second


def _intervals(take: TakeArrays, first: Ints, second: Ints) -> IntervalSpread:
    errors = take.offset_ms[second] - take.offset_ms[first]
    written = take.interval_s[first] * 1000
    turned = np.where(take.limb[second] < take.limb[first], -1.0, 1.0)
    return IntervalSpread(
        _spread(errors, turned, "ms"), _spread(100 * errors / written, turned, "%")
    )


def _spread(errors: Floats, turned: Floats, unit: str) -> Figure:
    """Return the spread of interval errors, with the longer of two memories.

    Hands that wander apart make intervals long and short in turn: their memory shows where errors
    from the one hand to the other are turned round on the way back.
    """
    found = spread(errors, unit)
    if found.value is None:
        return found
    memory = max(spread_memory(errors), spread_memory(errors * turned))
    return spread_figure(found.value, unit, found.count, (found.count - 1) / memory)


def _limps(take: TakeArrays, first: Ints, second: Ints) -> Floats:
    """First interval minus second of each three alternate strokes, signed by the middle hand."""
    after = np.full(len(take.limb), -1)
    after[first] = second
    chained = after[second] >= 0
    a, b, c = first[chained], second[chained], after[second[chained]]
    limb, offset = take.limb, take.offset_ms
    alternate = (limb[a] == limb[c]) & (limb[a] != limb[b]) & _by_hand(limb[a]) & _by_hand(limb[b])
    a, b, c = a[alternate], b[alternate], c[alternate]
    longer = 2 * offset[b] - offset[a] - offset[c]
    signed: Floats = np.where(limb[b] == LEFT_HAND, longer, -longer)
    return signed


def _by_hand(limb: Ints) -> Bools:
    found: Bools = (limb == RIGHT_HAND) | (limb == LEFT_HAND)
    return found


def _changes(take: TakeArrays, line: Ints) -> dict[str, Figure]:
    """Rushing or dragging at each kind of change of note value."""
    value, row = take.value[line], take.row[line]
    turned = np.flatnonzero((np.diff(value) != 0) | (np.diff(row) != 0)) + 1
    starts = np.concatenate([[0], turned])
    ends = np.append(turned, len(line))
    sums = np.concatenate([[0.0], np.cumsum(take.offset_ms[line])])

    new = np.arange(1, len(starts))
    new = new[row[starts[new]] == row[starts[new] - 1]] if len(line) else new[:0]
    new = new[ends[new] - starts[new] > 1]
    at = starts[new]
    after = np.minimum(at + 1 + STROKES_AROUND_CHANGE, ends[new])
    before = np.maximum(at + 1 - STROKES_AROUND_CHANGE, starts[new - 1])
    jump = (sums[after] - sums[at + 1]) / (after - at - 1)
    jump -= (sums[at + 1] - sums[before]) / (at + 1 - before)
    kind = value[at - 1] * len(take.names["value"]) + value[at]
    return {
        _change_name(take, code): mean(jump[those], "ms", odds=None)
        for code, those in indexes_by_code(kind, np.ones(len(kind), dtype=np.bool_))
    }


def _change_name(take: TakeArrays, code: int) -> str:
    old, new = divmod(code, len(take.names["value"]))
    return f"{take.name('value', old)} to {take.name('value', new)}"
