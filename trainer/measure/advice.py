"""What is worth practising: the few things that cost a take most, each with its evidence.

Suspects are moves (a hand from drum to drum), limbs, unisons of hand and foot, and changes of note
value. Each is tried against all other strokes of the take in four ways:

- *late* or *early*: its mean offset differs, after the player's slow wander is taken out (the mean
  of the strokes around, `WANDER_STROKES` in all);
- *uneven*: its spread is wider (Brown and Forsythe's 1974 test: Welch's t on absolute deviations);
- *missed*: more of its strokes are missed or land on a wrong pad (exact binomial tail);
- *soft* or *loud*, hands only: its power differs from the other hand's on the same voice and level.

The suspect that explains most is named first, its effect is taken out, and the rest is tried again,
so a slow move does not also make its hand and its drum look late. A suspect counts only when chance
would bring up any such suspect in one take of a hundred (`ALPHA`, divided by the number tried) and
when the effect is large enough to be worth a practice: the floors below, our own choice.

`cost` is what ranks: the share of the take's spread it explains, plus its share of the failures
(weighted down where under two strokes in a hundred fail), plus half its share of the unevenness of
power. Nothing is said of fewer than `ENOUGH` strokes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.measure.suspects import suspects
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.measure.frame import Bools, Floats, Frame
    from trainer.measure.suspects import Suspect

ENOUGH = 100
"""Fewest main strokes that landed before anything is proposed."""

FEWEST = 16
"""Fewest strokes of a suspect, and of the strokes it is compared with."""

WANDER_STROKES = 33
ALPHA = 0.01
LATE_MS, WIDER, POWER_STEPS = 4.0, 1.35, 8.0
FAILURES, FAILURE_RATIO = 4, 2.5
TYPICAL_FAILURE = 0.02
MOST = 3


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing worth practising: who, what is wrong with it, how much it costs, and the evidence.

    `kind`, `name`, `limb`, `start` and `end` are those of the suspect. `faults` lists late, early,
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


def advise(frame: Frame, most: int = MOST) -> tuple[Finding, ...] | None:
    """Return what is worth practising, costliest first; None with too little to go on."""
    if np.count_nonzero(frame.played) < ENOUGH:
        return None
    tried = suspects(frame)
    found: dict[str, Finding] = {}
    for one in (*_timing(frame, tried), *_failures(frame, tried), *_power(frame, tried)):
        before = found.get(one.name)
        found[one.name] = one if before is None else _joined(before, one)
    ranked = sorted(found.values(), key=lambda one: (-one.cost, one.name))
    return tuple(ranked[:most])


def _joined(one: Finding, other: Finding) -> Finding:
    return replace(
        one,
        faults=one.faults + other.faults,
        cost=one.cost + other.cost,
        evidence=one.evidence + other.evidence,
    )


def _finding(suspect: Suspect, fault: str, cost: float, words: str) -> Finding:
    one = suspect
    return Finding(
        one.kind, one.name, one.limb, one.start, one.end, (fault,), min(1.0, float(cost)), (words,)
    )


# Time


def _timing(frame: Frame, tried: Sequence[Suspect]) -> Iterator[Finding]:
    """Name late, early and uneven suspects."""
    chosen = np.flatnonzero(frame.played)
    rest = _without_wander(frame.offset_ms[chosen])
    total = float(rest @ rest)
    rows = [(one, one.strokes[chosen]) for one in tried]
    if total <= 0:
        return
    yield from _late(rest, rows, total)
    yield from _uneven(rest, rows, total)


def _late(rest: Floats, rows: list[tuple[Suspect, Bools]], total: float) -> Iterator[Finding]:
    """Name suspects with another mean offset, taking each out of `rest` in place."""
    limit = _limit(len(rows))
    while True:
        best = None
        for one, inside in rows:
            gap, error = _gap(rest, inside)
            explained = gap * gap * inside.sum() * (~inside).sum() / len(rest)
            big = abs(gap) >= LATE_MS and abs(gap) > limit * error
            # Where only two limbs play, one late and the other early are the same fact: say late.
            rank = (round(explained, 6), gap > 0)
            if big and (best is None or rank > best[0]):
                best = (rank, explained, gap, one, inside)
        if best is None:
            return
        _, explained, gap, one, inside = best
        rest[inside] -= gap
        rest -= rest.mean()
        rows = [row for row in rows if row[0] is not one]
        fault, words = ("late", "later") if gap > 0 else ("early", "earlier")
        count = int(inside.sum())
        told = f"{abs(gap):.0f} ms {words} than the other strokes ({count} strokes)"
        yield _finding(one, fault, explained / total, told)


def _uneven(rest: Floats, rows: list[tuple[Suspect, Bools]], total: float) -> Iterator[Finding]:
    """Name suspects with a wider spread, narrowing each in `rest` in place."""
    limit = _limit(len(rows))
    while True:
        away = np.abs(rest)
        best = None
        for one, inside in rows:
            gap, error = _gap(away, inside)
            if not gap > limit * error:
                continue
            wide, usual = float(np.std(rest[inside])), float(np.std(rest[~inside]))
            explained = (wide * wide - usual * usual) * inside.sum()
            if wide >= WIDER * usual and (best is None or explained > best[0]):
                best = (explained, wide, usual, one, inside)
        if best is None:
            return
        explained, wide, usual, one, inside = best
        rest[inside] *= usual / wide
        rows = [row for row in rows if row[0] is not one]
        words = f"spread {wide:.0f} ms, other strokes {usual:.0f} ms ({int(inside.sum())} strokes)"
        yield _finding(one, "uneven", explained / total, words)


def _without_wander(offsets: Floats) -> Floats:
    """Offsets less the mean of the strokes around each: slow wander belongs to nobody."""
    width = min(WANDER_STROKES, len(offsets))
    ones = np.ones(width)
    around = np.convolve(offsets, ones, "same") / np.convolve(np.ones(len(offsets)), ones, "same")
    rest: Floats = offsets - around
    rest -= rest.mean()
    return rest


def _gap(values: Floats, inside: Bools) -> tuple[float, float]:
    """Mean inside minus mean outside, and its standard error (Welch); 0, infinity for too few."""
    one, other = values[inside], values[~inside]
    if len(one) < FEWEST or len(other) < FEWEST:
        return 0.0, math.inf
    error = math.sqrt(one.var(ddof=1) / len(one) + other.var(ddof=1) / len(other))
    return float(one.mean() - other.mean()), error


def _limit(tried: int) -> float:
    """How many standard errors a suspect must stand out by, with so many tried (two-sided)."""
    return NormalDist().inv_cdf(1.0 - ALPHA / (2 * max(1, tried)))


# Failures


def _failures(frame: Frame, tried: Sequence[Suspect]) -> Iterator[Finding]:
    """Name suspects that are missed, or land on a wrong pad, more often than the rest."""
    main = frame.main
    failed = main & (frame.outcome != TARGET_OUTCOMES.index(PLAYED))
    open_ = np.ones(len(main), dtype=np.bool_) & main
    all_failed = max(1, int(failed.sum()))
    weight = min(1.0, all_failed / main.sum() / TYPICAL_FAILURE)
    rows = list(tried)
    while True:
        best = None
        for one in rows:
            row = _failing(one.strokes & open_, open_, failed)
            if row and (best is None or row[0] > best[0][0]):
                best = (row, one)
        if best is None:
            return
        (excess, count, strokes, others), one = best
        open_ = open_ & ~one.strokes
        rows.remove(one)
        words = (
            f"{count} of {strokes} strokes missed or on a wrong pad, "
            f"others {100 * others:.1f} in a hundred"
        )
        yield _finding(one, "missed", weight * excess / all_failed, words)


def _failing(inside: Bools, open_: Bools, failed: Bools) -> tuple[float, int, int, float] | None:
    """(failures in excess, failures, strokes, the others' rate), None where nothing stands out."""
    strokes, others = int(inside.sum()), int((open_ & ~inside).sum())
    count, rest = int((inside & failed).sum()), int((open_ & ~inside & failed).sum())
    if strokes < FEWEST or others < FEWEST or count < FAILURES:
        return None
    rate = rest / others
    share = strokes / (strokes + others)
    if count / strokes < FAILURE_RATIO * rate or _tail(count, count + rest, share) > ALPHA / 50:
        return None
    return count - strokes * rate, count, strokes, rate


def _tail(count: int, total: int, share: float) -> float:
    """Chance of `count` or more of `total` falling into a share of the strokes."""
    log_in, log_out = math.log(share), math.log1p(-share)
    terms = (
        math.lgamma(total + 1)
        - math.lgamma(k + 1)
        - math.lgamma(total - k + 1)
        + k * log_in
        + (total - k) * log_out
        for k in range(count, total + 1)
    )
    return min(1.0, sum(math.exp(term) for term in terms))


# Power


def _power(frame: Frame, tried: Sequence[Suspect]) -> Iterator[Finding]:
    """Name the hand that plays softer than the other on the same voices and levels."""
    hands = [one for one in tried if one.kind == "hand"]
    if len(hands) != 2:
        return
    both = frame.played & (hands[0].strokes | hands[1].strokes)
    chosen = np.flatnonzero(both)
    level = frame.voice[chosen] * len(frame.names["level"]) + frame.level[chosen]
    velocity = frame.velocity[chosen]
    rest = velocity - _means(velocity, level)
    total = float(rest @ rest)
    inside = hands[0].strokes[chosen]
    gap, error = _gap(rest, inside)
    if total <= 0 or abs(gap) < POWER_STEPS or abs(gap) <= _limit(1) * error:
        return
    softer = hands[0] if gap < 0 else hands[1]
    explained = gap * gap * inside.sum() * (~inside).sum() / len(rest)
    words = f"{abs(gap):.0f} velocity steps softer than the other hand on the same drums"
    yield _finding(softer, "soft", 0.5 * explained / total, words)


def _means(values: Floats, codes: Any) -> Floats:
    """The mean of each value's group."""
    _, back = np.unique(codes, return_inverse=True)
    sums: Floats = np.bincount(back, weights=values) / np.bincount(back)
    return sums[back]
