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
the first `AFTER_CHANGE`, which belong to the change, where enough are left. All note values are
fitted together to the jumps from stretch to stretch (least squares), so wander that is slower than
a stretch cancels out, and a late value does not make its neighbours look early. A value's gap is
its place less the mean of all others, by strokes. Jumps from or to a value with too few stretches
to be tested itself are left out.

Moves: what it costs a hand to get from one drum to the next.

A move is two strokes of one hand, one after the other in a pass, written on different voices; a
stay is two on the same voice. Both are measured on their second stroke, the one that arrives. Only
strokes with a written (or inferred) hand count. Feet do not travel and are left out.

Offsets are in ms (minus is early) over the arrivals that landed on the right pad; errors are the
percentage of arrivals missed or on a wrong pad. `later`, `wider` and `errors_more` compare a move
with the same hand's stays: mean offset, spread and errors of the move minus those of the stays
(plus is later, wider, more), without a figure where the hand hardly ever stays. `later` and `wider`
are taken within blocks (`trainer.measure.stroke_block`), where slow wander cancels out.
"""

from __future__ import annotations

import math
import operator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trainer.measure.figure import Figure, difference, independent_count, mean, share, spread
from trainer.measure.power import group_means
from trainer.measure.stroke_block import difference_within, stroke_blocks
from trainer.measure.take_arrays import BOTH_FEET, BOTH_HANDS, LIMBS, indexes_by_code
from trainer.measure.threshold import t_quantile
from trainer.practice.arrays import product, solved
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools, Floats, Ints


@dataclass(frozen=True, slots=True)
class Arrivals:
    """Strokes of one hand that arrive in the same way: mean and spread in ms, errors in percent."""

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


FEWEST_TOGETHER = 4  # strokes of a hand in a block, for its spread around their mean


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


def _wider(take: TakeArrays, moves: Ints, stays: Ints) -> Figure:
    """How much more moves vary than stays, each around that hand's mean in its block."""
    both = np.sort(np.concatenate([moves, stays]))
    block = stroke_blocks(take)
    both = both[take.played[both] & (block[both] >= 0)]
    rest = take.offset_ms[both] - group_means(take.offset_ms[both], block[both])
    _, cell = np.unique(block[both], return_inverse=True)
    enough = np.bincount(cell)[cell] >= FEWEST_TOGETHER
    moved = np.isin(both, moves)
    return difference(spread(rest[enough & moved], "ms"), spread(rest[enough & ~moved], "ms"))


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
        wider=_wider(take, moved.strokes, still),
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
    """Return how much later a value's stretches are than those of all others, and whether surely.

    `inside` is True for the strokes of one value; all three are parallel, in order of time.
    """
    if inside.sum() < FEWEST_IN_GROUP:
        return 0.0, False
    first = stretch_starts(value)
    places = np.array([_stretch_mean(one) for one in np.split(offsets, first[1:])])
    kind, own = value[first], int(value[np.argmax(inside)])
    steps = _testable_steps(kind)
    others = _linked_values(own, kind, steps)
    steps = steps[np.isin(kind[steps], others)]
    free = len(steps) - len(others) + 1
    if len(others) < 2 or free < FEWEST_STRETCHES:
        return 0.0, False
    others.remove(own)
    # This value's place is 0; the places of the others explain the jumps between stretches.
    shape = np.array([1.0 * (kind[steps + 1] == one) - (kind[steps] == one) for one in others])
    jumps = places[steps + 1] - places[steps]
    strokes = [int(np.count_nonzero(value == one)) for one in others]
    share = [-count / sum(strokes) for count in strokes]
    normal = [[product(one, other) for other in shape] for one in shape]
    fitted = solved(normal, [product(row, jumps) for row in shape])
    later = math.fsum(map(operator.mul, share, fitted))
    rest = jumps - np.sum(shape * np.array(fitted)[:, np.newaxis], axis=0)
    pull = rest * np.sum(shape * np.array(solved(normal, share))[:, np.newaxis], axis=0)
    # Two jumps in a row share a stretch: their errors go together (Newey and West 1987, one lag).
    variance = product(pull, pull) + product(pull[1:], pull[:-1])
    error = math.sqrt(max(0.0, variance) * len(steps) / free)
    return later, abs(later) > t_quantile(1.0 - alpha / 2, free) * error


def _testable_steps(kind: Ints) -> Ints:
    """Return the stretches after which both values can be tested, by the value of each stretch.

    Beside a value with too few stretches to be tested, its fault would look like the neighbour's.
    """
    codes, back = np.unique(kind, return_inverse=True)
    testable = (np.bincount(back, minlength=len(codes)) >= FEWEST_STRETCHES)[back]
    return np.flatnonzero(testable[:-1] & testable[1:])


def _linked_values(own: int, kind: Ints, steps: Ints) -> list[int]:
    """Return a value and all that steps lead to from it, one after the other, in order."""
    found, known = {own}, 0
    while len(found) > known:
        known = len(found)
        for one, other in zip(kind[steps].tolist(), kind[steps + 1].tolist(), strict=True):
            if one in found or other in found:
                found |= {one, other}
    return sorted(found)


def _stretch_mean(stretch: Floats) -> float:
    return float(stretch[AFTER_CHANGE if len(stretch) >= 2 * AFTER_CHANGE else 0 :].mean())


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
