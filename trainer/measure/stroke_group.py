"""Groups of strokes that the advice tries: moves, limbs, unisons, note values, changes of value.

A group's `strokes` is True for each target it takes part in, parallel to the arrays of the take:

- *hand*, *foot*: every stroke of that limb;
- *move*: the arrivals of a hand from one voice to another;
- *unison*: a foot's strokes that have a hand's beside them, where the foot plays alone as well;
- *value*: the hands' strokes of one note value, where they play several;
- *change*: the first two strokes of hands in a new note value that lasts twice as long at least;
- *changes*: the same for all changes to shorter, or to longer values together.

A finding is a group with a fault, and every one goes through the same test: it counts only when
chance would bring up any such group in one take of a hundred (`FINDING_ALPHA`, divided by the
number tried). Strokes that follow each other are alike, so means are judged by the number of
independent strokes their series is worth (`trainer.measure.figure.independent_count`).

A stretch is a run of hands' strokes of one note value. Its place is the mean of its strokes without
the first `AFTER_CHANGE`, which belong to the change, where enough are left. A note value is
compared stretch by stretch with the mean of the stretches before and after, so wander that is
slower than a stretch cancels out; the differences go through Student's t. Only stretches between
values that have enough stretches to be tested themselves count: otherwise nothing is said.

Moves: what it costs a hand to get from one drum to the next.

A move is two strokes of one hand, one after the other in a pass, written on different voices; a
stay is two on the same voice. Both are measured on their second stroke, the one that arrives. Only
strokes with a written (or inferred) hand count. Feet do not travel and are left out.

Offsets are in ms (minus is early) over the arrivals that landed on the right pad; errors are the
percentage of arrivals missed or on a wrong pad. `later`, `wider` and `errors_more` compare a move
with the same hand's stays: mean offset, spread and errors of the move minus those of the stays
(plus is later, wider, more). `later` is taken within blocks of some 24 strokes
(`trainer.measure.stroke_block`), where slow wander cancels out. They have no figure where the hand
hardly ever stays.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trainer.measure.figure import Figure, difference, independent_count, mean, share, spread
from trainer.measure.stroke_block import difference_within, stroke_blocks
from trainer.measure.take_arrays import BOTH_FEET, BOTH_HANDS, LIMBS, indexes_by_code
from trainer.measure.threshold import t_quantile
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools, Floats, Ints


@dataclass(frozen=True, slots=True)
class Arrivals:
    """Strokes of one hand that arrive in the same way: mean and spread in ms, errors in %."""

    mean: Figure
    spread: Figure
    errors: Figure


@dataclass(frozen=True, slots=True)
class Move:
    """One move: the hand, its two voices, its arrivals, and how they compare with staying."""

    limb: str
    start: str
    end: str
    mean: Figure
    spread: Figure
    errors: Figure
    later: Figure
    wider: Figure
    errors_more: Figure


@dataclass(frozen=True, slots=True)
class Moves:
    """Each hand's stays, and each move by name: "RH snare to floor"."""

    staying: dict[str, Arrivals]
    by_move: dict[str, Move]


def moves(take: TakeArrays) -> Moves:
    """Measure each hand's moves against its stays."""
    staying: dict[str, Arrivals] = {}
    by_move: dict[str, Move] = {}
    for hand in BOTH_HANDS:
        limb = take.name("limb", hand)
        stays, *moved = arrivals_of_hand(take, hand)
        if not len(stays.strokes) and not moved:
            continue
        staying[limb] = still = _arrival_figures(take, stays.strokes)
        for one in moved:
            name = f"{limb} {one.start} to {one.end}"
            by_move[name] = _move_figures(take, limb, one, still, stays.strokes)
    return Moves(staying, by_move)


class MoveStrokes(NamedTuple):
    """Strokes (places in the take) that arrive at a voice from another; both empty for stays."""

    start: str
    end: str
    strokes: Ints


def arrivals_of_hand(take: TakeArrays, hand: int) -> list[MoveStrokes]:
    """Return a hand's stays, then each of its moves, missed arrivals included."""
    strokes = np.flatnonzero(take.main & (take.limb == hand))
    before, after = strokes[:-1], strokes[1:]
    joined = take.row[before] == take.row[after]
    before, after = before[joined], after[joined]
    travelled = take.voice[before] != take.voice[after]
    voices = take.names["voice"]
    kind = take.voice[before] * len(voices) + take.voice[after]
    return [MoveStrokes("", "", after[~travelled])] + [
        MoveStrokes(voices[code // len(voices)], voices[code % len(voices)], after[those])
        for code, those in indexes_by_code(kind, travelled)
    ]


def _arrival_figures(take: TakeArrays, strokes: Ints) -> Arrivals:
    landed = strokes[take.played[strokes]]
    wrong = int(np.count_nonzero(take.outcome[strokes] != TARGET_OUTCOMES.index(PLAYED)))
    offset = take.offset_ms[landed]
    return Arrivals(mean(offset, "ms"), spread(offset, "ms"), share(wrong, len(strokes)))


def _later(take: TakeArrays, moves: Ints, stays: Ints) -> Figure:
    """How much later moves land than stays, block by block."""
    both = np.sort(np.concatenate([moves, stays]))
    both = both[take.played[both]]
    block = stroke_blocks(take)[both]
    return difference_within(take.offset_ms[both], np.isin(both, moves), block, "ms")


def _move_figures(
    take: TakeArrays, limb: str, moved: MoveStrokes, stays: Arrivals, still: Ints
) -> Move:
    found = _arrival_figures(take, moved.strokes)
    return Move(
        limb=limb,
        start=moved.start,
        end=moved.end,
        mean=found.mean,
        spread=found.spread,
        errors=found.errors,
        later=_later(take, moved.strokes, still),
        wider=difference(found.spread, stays.spread),
        errors_more=difference(found.errors, stays.errors),
    )


FEWEST_IN_GROUP = 16
"""Fewest strokes of a group, and of the strokes it is compared with."""

FINDING_ALPHA = 0.01


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing worth practising: who, what is wrong with it, how much it costs, and the evidence.

    `kind`, `name`, `limb`, `start` and `end` are those of the group. `faults` lists late, early,
    uneven, missed or soft; `evidence` has a line for each. `cost` has no unit: larger is worse.
    """

    kind: str
    name: str
    limb: str
    start: str
    end: str
    faults: tuple[str, ...]
    cost: float
    evidence: tuple[str, ...]


def make_finding(group: StrokeGroup, fault: str, cost: float, evidence: str) -> Finding:
    """Return one fault of a group as a finding."""
    who = group.kind, group.name, group.limb, group.start, group.end
    return Finding(*who, (fault,), min(1.0, float(cost)), (evidence,))


def join_findings(one: Finding, other: Finding) -> Finding:
    """Return two findings about the same group as one."""
    return replace(
        one,
        faults=one.faults + other.faults,
        cost=one.cost + other.cost,
        evidence=one.evidence + other.evidence,
    )


def mean_gap(values: Floats, inside: Bools, alpha: float) -> tuple[float, bool]:
    """Mean inside minus mean outside, and whether chance would hardly (`alpha`) bring it up.

    Welch's t, two-sided, on as many strokes as each series is worth; False for too few.
    """
    one, other = values[inside], values[~inside]
    if len(one) < FEWEST_IN_GROUP or len(other) < FEWEST_IN_GROUP:
        return 0.0, False
    difference = float(one.mean() - other.mean())
    parts = [(float(s.var(ddof=1)), max(2.0, independent_count(s))) for s in (one, other)]
    errors = [variance / worth for variance, worth in parts]
    error = sum(errors)
    if error <= 0:
        return difference, difference != 0
    free = error**2 / sum(e * e / (worth - 1) for e, (_, worth) in zip(errors, parts, strict=True))
    return difference, abs(difference) > t_quantile(1.0 - alpha / 2, free) * math.sqrt(error)


AFTER_CHANGE = 2
"""Strokes after a change that belong to the change."""

FEWEST_STRETCHES = 5


def stretch_starts(value: Ints) -> Ints:
    """Return where each stretch begins, given the value of each stroke (at least one)."""
    return np.flatnonzero(np.concatenate([[True], value[1:] != value[:-1]]))


def value_gap(offsets: Floats, value: Ints, inside: Bools, alpha: float) -> tuple[float, bool]:
    """Return how much later a value's stretches are than their neighbours, and whether surely.

    `inside` is True for the strokes of one value; all three are parallel, in order of time.
    """
    if inside.sum() < FEWEST_IN_GROUP:
        return 0.0, False
    first = stretch_starts(value)
    places = np.array([_stretch_mean(one) for one in np.split(offsets, first[1:])])
    middle = np.flatnonzero(inside[first][1:-1] & _between_testable(value[first])) + 1
    if len(middle) < FEWEST_STRETCHES:
        return 0.0, False
    gaps = places[middle] - (places[middle - 1] + places[middle + 1]) / 2
    mean, error = float(gaps.mean()), float(gaps.std(ddof=1)) / math.sqrt(len(gaps))
    return mean, abs(mean) > t_quantile(1.0 - alpha / 2, len(gaps) - 1) * error


def _between_testable(value: Ints) -> Bools:
    """Return, of each stretch but the first and last, whether both neighbours could be accused.

    Beside a value with too few stretches to be tested, its fault would look like the neighbour's.
    """
    codes, back = np.unique(value, return_inverse=True)
    inner = np.bincount(back[1:-1], minlength=len(codes))
    testable = (inner >= FEWEST_STRETCHES)[back]
    found: Bools = testable[:-2] & testable[2:]
    return found


def _stretch_mean(stretch: Floats) -> float:
    rest = stretch[AFTER_CHANGE:]
    return float((rest if len(rest) >= AFTER_CHANGE else stretch).mean())


SHORTER, LONGER = "to shorter note values", "to longer note values"


@dataclass(frozen=True, slots=True)
class StrokeGroup:
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


def stroke_groups(take: TakeArrays) -> list[StrokeGroup]:
    """Return every group of a take; each has at least one stroke."""
    return [
        *_limb_groups(take),
        *_move_groups(take),
        *_unison_groups(take),
        *_value_groups(take),
        *_change_groups(take),
    ]


def _limb_groups(take: TakeArrays) -> Iterator[StrokeGroup]:
    for limb in (*BOTH_HANDS, *BOTH_FEET):
        strokes = take.main & (take.limb == limb)
        if strokes.any():
            name = LIMBS[limb]
            yield StrokeGroup("hand" if limb in BOTH_HANDS else "foot", name, name, strokes=strokes)


def _move_groups(take: TakeArrays) -> Iterator[StrokeGroup]:
    for hand in BOTH_HANDS:
        limb = LIMBS[hand]
        for start, end, strokes in arrivals_of_hand(take, hand)[1:]:
            name, mask = f"{limb} {start} to {end}", _mask(take, strokes)
            yield StrokeGroup("move", name, limb, start, end, mask)


def _unison_groups(take: TakeArrays) -> Iterator[StrokeGroup]:
    hands = np.flatnonzero(take.main & ~take.foot)
    keys = take.row * 1e9 + take.beat
    beside = np.isin(keys, keys[hands])
    for foot in BOTH_FEET:
        strokes = take.main & (take.limb == foot)
        together = strokes & beside
        if together.any() and (strokes & ~beside).any():
            name = LIMBS[foot]
            yield StrokeGroup("unison", f"{name} with a hand", name, strokes=together)


def _value_groups(take: TakeArrays) -> Iterator[StrokeGroup]:
    present = indexes_by_code(take.value, take.main & ~take.foot)
    # Of two, one late is the other early: the shorter one stands for both.
    for code, those in present[len(present) <= 2 :]:
        value = take.names["value"][code]
        yield StrokeGroup("value", f"value {value}", "", value, value, _mask(take, those))


def _change_groups(take: TakeArrays) -> Iterator[StrokeGroup]:
    hands = np.flatnonzero(take.main & ~take.foot)
    if not len(hands):
        return
    value, row, names = take.value[hands], take.row[hands], take.names["value"]
    first = stretch_starts(value)
    lasts = np.diff([*first, len(hands)]) > 2 * AFTER_CHANGE
    first = first[lasts & (first > 0) & (row[first] == row[first - 1])]
    old, new = value[first - 1], value[first]

    def fresh(those: Ints) -> Bools:
        strokes = [hands[first[those] + away] for away in range(AFTER_CHANGE)]
        return _mask(take, np.concatenate(strokes))

    for code, those in indexes_by_code(old * len(names) + new, first > 0):
        start, end = (names[one] for one in divmod(code, len(names)))
        yield StrokeGroup("change", f"{start} to {end}", "", start, end, fresh(those))
    # Codes count from the longest value on.
    for name, which in ((SHORTER, new > old), (LONGER, new < old)):
        both = sorted({*old[which].tolist(), *new[which].tolist()}, reverse=name == LONGER)
        if len(both) > 2:
            start, end = names[both[0]], names[both[-1]]
            yield StrokeGroup("changes", name, "", start, end, fresh(np.flatnonzero(which)))


def _mask(take: TakeArrays, indexes: Ints) -> Bools:
    mask = np.zeros(len(take.main), dtype=np.bool_)
    mask[indexes] = True
    return mask
