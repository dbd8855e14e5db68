"""The order measures are played in: repeats and endings written out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.pattern.model import Section
from trainer.pattern.tables import MAX_BARS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.musicxml_measure import Measure


def play_order(measures: Sequence[Measure]) -> list[tuple[int, int]]:
    """Return (measure index, turn) in the order of playing; turns count from 1.

    Raises BadInput where the repeats make more bars than a pattern may have.
    """
    order: list[tuple[int, int]] = []
    at = start = 0
    turn = 1
    while at < len(measures):
        measure = measures[at]
        if measure.forward and at != start:
            start, turn = at, 1
        if not measure.endings or turn in measure.endings:
            order.append((at, turn))
            if len(order) > MAX_BARS:
                raise BadInput(f"the repeats make more than {MAX_BARS:,} bars", mend="repeat less")
            if measure.times and turn < _turns(measures, at):
                at, turn = start, turn + 1
                continue
            if measure.times or _last_ending(measures, at):
                start, turn = at + 1, 1
        at += 1
    return order


def _turns(measures: Sequence[Measure], at: int) -> int:
    """Return how often the repeat that ends at a measure is played."""
    measure = measures[at]
    following = measures[at + 1].endings if at + 1 < len(measures) else frozenset()
    if measure.endings and following:
        return max(following)
    return measure.times


def _last_ending(measures: Sequence[Measure], at: int) -> bool:
    return bool(measures[at].endings) and (at + 1 == len(measures) or not measures[at + 1].endings)


def sections(measures: Sequence[Measure], order: Sequence[tuple[int, int]]) -> list[Section]:
    """Return the sections of what is played: each from its mark to the next one's.

    Where no section is marked, every plain repeat is one.
    """
    marked = [(bar, measures[at].section) for bar, (at, turn) in enumerate(order) if turn == 1]
    starts = [(bar, section) for bar, section in marked if section]
    ends = [*(bar for bar, _ in starts[1:]), len(order)]
    found = []
    for (first, (title, times)), end in zip(starts, ends, strict=False):
        whole = (end - first) % times == 0 if times else False
        found.append(Section(title, first, end - first, times if whole else 1))
    return found or _repeats(measures, order)


def _repeats(measures: Sequence[Measure], order: Sequence[tuple[int, int]]) -> list[Section]:
    """Return a section for each run of measures that is played more than once in full."""
    found, first = [], 0
    for bar, (at, turn) in enumerate(order):
        last = bar + 1 == len(order) or order[bar + 1][1] < turn or order[bar + 1][0] > at + 1
        if bar + 1 < len(order) and order[bar + 1][1] == turn == 1 and measures[at + 1].forward:
            last = True
        if last:
            count = bar + 1 - first
            plain = turn > 1 and not any(measures[one].endings for one, _ in order[first : bar + 1])
            if plain and count % turn == 0:
                found.append(Section("", first, count, turn))
            first = bar + 1
    return found
