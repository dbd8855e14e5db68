"""The order in which the measures of a MusicXML part are played, and its sections.

Repeats and endings are written out, and jumps (da capo, dal segno, coda, fine) are followed once,
with the last ending of each repeat, as players read them (common practice). A jump to a sign that
is not there is left out and reported, and so is every jump after the first.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.pattern.formats.musicxml_marks import (
    CODA,
    DA_CAPO,
    DAL_SEGNO,
    FINE,
    SEGNO,
    TO_CODA,
)
from trainer.pattern.model import MAX_BARS, Section

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.formats.musicxml_measures import Measure

Turns = list[tuple[int, int]]
"""Measures in the order of playing: the index and the turn, from 1, of each."""


def play_order(measures: Sequence[Measure]) -> tuple[Turns, list[str]]:
    """Return the order of playing and, in words, which jumps are not followed.

    Raises BadInput where the repeats make more bars than a pattern may have.
    """
    order = _with_repeats(measures, 0, len(measures))
    jumps = [at for at, one in enumerate(measures) if one.signs & {DA_CAPO, DAL_SEGNO}]
    if not jumps:
        return order, []
    jump = jumps[0]
    left_out = [
        f"form: the jump in measure {at + 1} is not followed, only the first one is"
        for at in jumps[1:]
    ]
    sign = DA_CAPO if DA_CAPO in measures[jump].signs else DAL_SEGNO
    start = 0 if sign == DA_CAPO else _marked(measures, SEGNO)
    if start is None or start > jump:
        words = f'form: "{sign}" in measure {jump + 1} has no sign to go to'
        return order, [words, *left_out]
    before = _with_repeats(measures, 0, jump + 1)
    coda = _coda(measures, jump)
    leave = _leave(measures, jump)
    if leave is not None and coda is not None and start <= leave <= jump:
        again = _once(measures, start, leave + 1)
        found = [*before, *again, *_with_repeats(measures, coda, len(measures))]
    else:
        fine = next((at for at in range(start, jump + 1) if FINE in measures[at].signs), jump)
        found = [*before, *_once(measures, start, fine + 1)]
        if fine == jump:
            found += _with_repeats(measures, jump + 1, len(measures))
    return _bounded(found), left_out


def _marked(measures: Sequence[Measure], sign: str) -> int | None:
    return next((at for at, one in enumerate(measures) if sign in one.signs), None)


def _coda(measures: Sequence[Measure], jump: int) -> int | None:
    """Return where the coda starts: at the last of its signs, behind the jump."""
    found = [at for at, one in enumerate(measures) if CODA in one.signs and at > jump]
    return found[0] if found else None


def _leave(measures: Sequence[Measure], jump: int) -> int | None:
    """Return where the second time leaves for the coda: at its words, else at a sign before."""
    found = _marked(measures, TO_CODA)
    return _marked(measures[: jump + 1], CODA) if found is None else found


def _once(measures: Sequence[Measure], start: int, end: int) -> Turns:
    """Return measures played once, with the last of their endings."""
    return [
        (at, max(measures[at].endings, default=1))
        for at in range(start, end)
        if not (measures[at].endings and at + 1 < end and _has_later_ending(measures, at, end))
    ]


def _has_later_ending(measures: Sequence[Measure], at: int, end: int) -> bool:
    """Return whether another ending of the same repeat follows."""
    own = measures[at].endings
    for later in range(at + 1, end):
        endings = measures[later].endings
        if not endings:
            return False
        if endings != own:
            return True
    return False


def _with_repeats(measures: Sequence[Measure], first: int, end: int) -> Turns:
    order: Turns = []
    at = start = first
    turn = 1
    while at < end:
        measure = measures[at]
        if measure.forward and at != start:
            start, turn = at, 1
        if not measure.endings or turn in measure.endings:
            order.append((at, turn))
            _bounded(order)
            if measure.times and turn < _turns(measures, at):
                at, turn = start, turn + 1
                continue
            if measure.times or _last_ending(measures, at):
                start, turn = at + 1, 1
        at += 1
    return order


def _bounded(order: Turns) -> Turns:
    if len(order) > MAX_BARS:
        raise BadInput(f"the repeats make more than {MAX_BARS:,} bars", fix="repeat less")
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


def played_sections(measures: Sequence[Measure], order: Turns) -> list[Section]:
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
    return found or _repeat_sections(measures, order)


def _repeat_sections(measures: Sequence[Measure], order: Turns) -> list[Section]:
    """Return a section for each run of measures that is played more than once in full."""
    found, first = [], 0
    for bar, (at, turn) in enumerate(order):
        if bar + 1 == len(order) or _run_ends(measures, (at, turn), order[bar + 1]):
            count = bar + 1 - first
            plain = turn > 1 and not any(measures[one].endings for one, _ in order[first : bar + 1])
            if plain and count % turn == 0:
                found.append(Section("", first, count, turn))
            first = bar + 1
    return found


def _run_ends(
    measures: Sequence[Measure], now: tuple[int, int], following: tuple[int, int]
) -> bool:
    """Return whether the next measure begins another run: a jump, or another repeat's start."""
    (at, turn), (after, next_turn) = now, following
    if next_turn > turn:
        return False
    begins = next_turn == turn == 1 and measures[after].forward
    return next_turn < turn or after != at + 1 or begins
