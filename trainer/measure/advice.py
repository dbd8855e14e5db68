"""What is worth practising: the few things that cost a take most, each with its evidence.

Suspects are moves (a hand from drum to drum), limbs, unisons of hand and foot, and changes of note
value. Each is tried against all other strokes of the take in four ways:

- *late* or *early*: its mean offset differs, after slow wander is taken out. A limb is compared
  with the others (less the mean of all strokes around, `WANDER_STROKES` in all), a move, a unison
  or a change with the rest of its own limb's strokes around (`LIMB_STROKES`);
- *uneven*: its spread about its own limb's wander is wider (Brown and Forsythe's 1974 test: Welch's
  t on absolute deviations);
- *missed*: more of its strokes are missed or land on a wrong pad (exact binomial tail);
- *soft* or *loud*, hands only: its power differs from the other hand's on the same voice and level.

The suspect that explains most is named first, its effect is taken out, and the rest is tried again,
so a slow move does not also make its hand and its drum look late. A suspect counts only when chance
would bring up any such suspect in one take of a hundred (`ALPHA`, divided by the number tried) and
when the effect is large enough to be worth a practice: the floors below, our own choice. Strokes
that follow each other are alike, so means are judged by the independent strokes' worth of their
series (`trainer.measure.figure.independent`), and the parts of a take must agree: limbs that wander
each for themselves are left alone.

`cost` is what ranks: the share of the take's spread it explains, plus its share of the failures
(weighted down where under two strokes in a hundred fail), plus half its share of the unevenness of
power. Nothing is said of fewer than `ENOUGH` strokes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.measure.chance import t_quantile
from trainer.measure.figure import independent
from trainer.measure.suspects import suspects
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.measure.frame import Bools, Floats, Frame, Ints
    from trainer.measure.suspects import Suspect

ENOUGH = 100
"""Fewest main strokes that landed before anything is proposed."""

FEWEST = 16
"""Fewest strokes of a suspect, and of the strokes it is compared with."""

PARTS, FEWEST_A_PART, ENOUGH_A_PART = 6, 4, 10
"""Parts of a take that have to agree, and a suspect's strokes for a part to have a say, and to be
counted on."""

WANDER_STROKES, LIMB_STROKES = 33, 17
ALPHA = 0.01
LATE_MS, WIDER, POWER_STEPS = 4.0, 1.2, 8.0
FAILURES, FAILURE_RATIO = 4, 2.5
TYPICAL_FAILURE = 0.02
MOST = 3

LIMBS = ("hand", "foot")
"""Kinds of suspects that are whole limbs."""


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
    """Name late, early and uneven suspects: what is local first, then whole limbs."""
    chosen = np.flatnonzero(frame.played)
    offsets, limb = frame.offset_ms[chosen].copy(), frame.limb[chosen]
    total = float(np.sum(_without_wander(offsets) ** 2))
    if total <= 0:
        return
    rows = [(one, one.strokes[chosen]) for one in tried]
    limit = ALPHA / max(1, len(rows))
    local = [row for row in rows if row[0].kind not in LIMBS]
    for finding, inside, gap in _late(_within_limbs(offsets, limb), local, total, limit):
        offsets[inside] -= gap
        yield finding
    whole = [row for row in rows if row[0].kind in LIMBS]
    for finding, _, _ in _late(_without_wander(offsets), whole, total, limit):
        yield finding
    yield from _uneven(_within_limbs(offsets, limb), rows, total, limit)


def _late(
    rest: Floats, rows: list[tuple[Suspect, Bools]], total: float, alpha: float
) -> Iterator[tuple[Finding, Bools, float]]:
    """Name suspects with another mean offset, taking each out of `rest` in place.

    Yields each with its strokes and how much later they are, in ms.
    """
    while True:
        best = None
        for one, inside in rows:
            gap, stands_out = _gap(rest, inside, alpha)
            explained = gap * gap * inside.sum() * (~inside).sum() / len(rest)
            big = abs(gap) >= LATE_MS and stands_out and _lasting(rest, inside, gap)
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
        yield _finding(one, fault, explained / total, told), inside, gap


def _uneven(
    rest: Floats, rows: list[tuple[Suspect, Bools]], total: float, alpha: float
) -> Iterator[Finding]:
    """Name suspects with a wider spread, narrowing each in `rest` in place."""
    while True:
        away = np.abs(rest)
        best = None
        for one, inside in rows:
            gap, stands_out = _gap(away, inside, alpha)
            if not (stands_out and gap > 0):
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


def _without_wander(offsets: Floats, width: int = WANDER_STROKES) -> Floats:
    """Offsets less the mean of the strokes around each: slow wander belongs to nobody."""
    ones = np.ones(min(width, len(offsets)))
    around = np.convolve(offsets, ones, "same") / np.convolve(np.ones(len(offsets)), ones, "same")
    rest: Floats = offsets - around
    rest -= rest.mean()
    return rest


def _within_limbs(offsets: Floats, limb: Ints) -> Floats:
    """Offsets less the mean of the same limb's strokes around each."""
    rest = offsets.copy()
    for one in np.unique(limb):
        rest[limb == one] = _without_wander(offsets[limb == one], LIMB_STROKES)
    return rest


def _gap(values: Floats, inside: Bools, alpha: float) -> tuple[float, bool]:
    """Mean inside minus mean outside, and whether chance would hardly (`alpha`) bring it up.

    Welch's t, two-sided, on as many strokes as each series is worth; False for too few.
    """
    one, other = values[inside], values[~inside]
    if len(one) < FEWEST or len(other) < FEWEST:
        return 0.0, False
    gap = float(one.mean() - other.mean())
    parts = [(float(s.var(ddof=1)), max(2.0, independent(s))) for s in (one, other)]
    errors = [variance / worth for variance, worth in parts]
    error = sum(errors)
    if error <= 0:
        return gap, gap != 0
    free = error**2 / sum(e * e / (worth - 1) for e, (_, worth) in zip(errors, parts, strict=True))
    return gap, abs(gap) > t_quantile(1.0 - alpha / 2, free) * math.sqrt(error)


def _lasting(values: Floats, inside: Bools, gap: float) -> bool:
    """True where the parts of the take agree about a gap, as far as they can tell.

    With enough strokes in each part: Student's t on the parts' gaps. With fewer: all on one side.
    """
    gaps, fewest = [], len(values)
    for part, those in zip(
        np.array_split(values, PARTS), np.array_split(inside, PARTS), strict=True
    ):
        if those.sum() >= FEWEST_A_PART and (~those).any():
            gaps.append(float(part[those].mean() - part[~those].mean()))
            fewest = min(fewest, int(those.sum()))
    if len(gaps) < PARTS or fewest < ENOUGH_A_PART:
        return all(one * gap > 0 for one in gaps)
    error = float(np.std(gaps, ddof=1)) / math.sqrt(PARTS)
    return abs(float(np.mean(gaps))) > t_quantile(1.0 - ALPHA / 8, PARTS - 1) * error


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
    gap, stands_out = _gap(rest, inside, ALPHA)
    if total <= 0 or abs(gap) < POWER_STEPS or not stands_out:
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
