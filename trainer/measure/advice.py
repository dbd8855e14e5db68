"""What is worth practising: the few things that cost a take most, each with its evidence.

Each group of strokes (`trainer.measure.stroke_group`: moves, limbs, unisons of hand and foot, note
values, changes of note value) is tried against the other strokes of the take in four ways:

- *late* or *early*: its mean offset differs from the strokes around;
- *uneven*: its spread about its own limb's wander is wider (Brown and Forsythe's 1974 test: Welch's
  t on absolute deviations); not tried for note values, which differ in the time they span;
- *missed*: more of its strokes are missed or land on a wrong pad (exact tail);
- *soft*: a hand's power is below the other hand's on the same voice and level, or a drum's below
  the same hand's other drums at equal level (within blocks, `trainer.measure.power`).

The take as a whole is tried for a *fade*: power at equal tempo that falls by `LEAST_FADE_STEPS` or
more from its start to its end (`trainer.measure.trend`).

What a group is compared with, for late, early and uneven, so that the slow wander of the whole
player does not count:

- a note value with the stretches of other values before and after it;
- a move, a unison or a change with the rest of its own limb's strokes around (`LIMB_STROKES`);
- a limb with the others (less the mean of all strokes around, `WANDER_STROKES` in all), where the
  parts of the take must agree: limbs that wander each on their own are left alone.

The group that explains most is named first, its effect is taken out, and the rest is tried again:
so a slow move does not also make its hand and its drum look late. A group counts only when chance
would hardly bring it up and when the effect is large enough to be worth practising: the floors are
our own choice.

`cost` is the rank: the share of the take's spread it explains, plus its share of the failures
(weighted down where under two strokes in a hundred fail), plus half its share of the unevenness of
power. With fewer than `ENOUGH_STROKES` there is no advice.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Z
from trainer.measure.power import group_means, voice_gaps
from trainer.measure.stroke_group import (
    FEWEST_IN_GROUP,
    FINDING_ALPHA,
    StrokeGroup,
    join_findings,
    make_finding,
    mean_gap,
    stroke_groups,
    value_gap,
)
from trainer.measure.threshold import normal_quantile, t_quantile
from trainer.measure.trend import take_trends
from trainer.practice.arrays import product
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from trainer.measure.figure import Figure
    from trainer.measure.stroke_group import Finding
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools, Floats, Ints

    Test = Callable[[Floats, Bools, float], tuple[float, bool]]
    Row = tuple[StrokeGroup, Bools]


PARTS, FEWEST_A_PART, ENOUGH_A_PART = 6, 4, 10
"""Parts of a take that have to agree, and a group's strokes for a part to have a say, and to be
counted on."""

WANDER_STROKES, LIMB_STROKES = 33, 17
LEAST_LATE_MS, LEAST_WIDER = 4.0, 1.2

LIMB_KINDS = ("hand", "foot")
"""Kinds of groups that are whole limbs."""


def find_timing_faults(take: TakeArrays, tried: Sequence[StrokeGroup]) -> Iterator[Finding]:
    """Name late, early and uneven groups: note values first, then what is local, then limbs."""
    chosen = np.flatnonzero(take.played)
    offsets, limb = take.offset_ms[chosen].copy(), take.limb[chosen]
    total = float(np.sum(_without_wander(offsets) ** 2))
    if total <= 0:
        return
    rows = [(one, one.strokes[chosen]) for one in tried]
    limit = FINDING_ALPHA / max(1, len(rows))
    values = [row for row in rows if row[0].kind == "value"]
    local = [row for row in rows if row[0].kind not in ("value", *LIMB_KINDS)]
    whole = [row for row in rows if row[0].kind in LIMB_KINDS]

    hands, value = ~take.foot[chosen], take.value[chosen]

    def of_value(rest: Floats, inside: Bools, alpha: float) -> tuple[float, bool]:
        return value_gap(rest[hands], value[hands], inside[hands], alpha)

    for finding, inside, later in _find_late(offsets.copy(), values, total, limit, of_value):
        offsets[inside] -= later
        yield finding
    for finding, inside, later in _find_late(
        _within_limbs(offsets, limb), local, total, limit, _steady_gap
    ):
        offsets[inside] -= later
        yield finding
    for finding, _, _ in _find_late(_without_wander(offsets), whole, total, limit, _steady_gap):
        yield finding
    yield from _find_uneven(
        _within_limbs(_without_wander(offsets, LIMB_STROKES), limb), [*local, *whole], total, limit
    )


def _find_late(
    rest: Floats, rows: list[Row], total: float, alpha: float, test: Test
) -> Iterator[tuple[Finding, Bools, float]]:
    """Name groups with another mean offset, taking each out of `rest` in place.

    Yields each with its strokes and how much later they are, in ms.
    """
    while True:
        best = None
        for one, inside in rows:
            later, stands_out = test(rest, inside, alpha)
            explained = later * later * inside.sum() * (~inside).sum() / len(rest)
            big = abs(later) >= LEAST_LATE_MS and stands_out
            # Where only two limbs play, one late and the other early are the same fact: say late.
            rank = (round(explained, 6), later > 0)
            if big and (best is None or rank > best[0]):
                best = (rank, explained, later, one, inside)
        if best is None:
            return
        _, explained, later, one, inside = best
        rest[inside] -= later
        rest -= rest.mean()
        rows = [row for row in rows if row[0] is not one]
        fault, words = ("late", "later") if later > 0 else ("early", "earlier")
        count = int(inside.sum())
        evidence = f"{abs(later):.0f} ms {words} than the other strokes, n = {count}"
        yield make_finding(one, fault, explained / total, evidence), inside, later


def _find_uneven(rest: Floats, rows: list[Row], total: float, alpha: float) -> Iterator[Finding]:
    """Name groups with a wider spread, narrowing each in `rest` in place."""
    while True:
        away = np.abs(rest)
        best = None
        for one, inside in rows:
            wider, stands_out = mean_gap(away, inside, alpha)
            if not (stands_out and wider > 0):
                continue
            wide, usual = float(np.std(rest[inside])), float(np.std(rest[~inside]))
            explained = (wide * wide - usual * usual) * inside.sum()
            if wide >= LEAST_WIDER * usual and (best is None or explained > best[0]):
                best = (explained, wide, usual, one, inside)
        if best is None:
            return
        explained, wide, usual, one, inside = best
        rest[inside] *= usual / wide
        rows = [row for row in rows if row[0] is not one]
        words = f"spread {wide:.0f} ms, other strokes {usual:.0f} ms, n = {int(inside.sum())}"
        yield make_finding(one, "uneven", explained / total, words)


def _without_wander(offsets: Floats, width: int = WANDER_STROKES) -> Floats:
    """Offsets less the mean of the strokes around each: slow wander belongs to nobody."""
    count, width = len(offsets), min(width, len(offsets))
    sums, at = np.concatenate([[0.0], np.cumsum(offsets)]), np.arange(count)
    first, last = np.maximum(0, at - width // 2), np.minimum(count, at + (width + 1) // 2)
    rest: Floats = offsets - (sums[last] - sums[first]) / (last - first)
    rest -= rest.mean()
    return rest


def _within_limbs(offsets: Floats, limb: Ints) -> Floats:
    """Offsets less the mean of the same limb's strokes around each."""
    rest = offsets.copy()
    for one in np.unique(limb):
        rest[limb == one] = _without_wander(offsets[limb == one], LIMB_STROKES)
    return rest


def _steady_gap(values: Floats, inside: Bools, alpha: float) -> tuple[float, bool]:
    """The gap to the strokes around, and whether it is more than chance all through the take."""
    later, stands_out = mean_gap(values, inside, alpha)
    return later, stands_out and _lasting(values, inside, later)


def _lasting(values: Floats, inside: Bools, later: float) -> bool:
    """True where the parts of the take agree about a gap, as far as their strokes allow.

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
        return all(one * later > 0 for one in gaps)
    error = float(np.std(gaps, ddof=1)) / math.sqrt(PARTS)
    return abs(float(np.mean(gaps))) > t_quantile(1.0 - FINDING_ALPHA / 8, PARTS - 1) * error


FEWEST_FAILURES, FAILURE_RATIO = 4, 2.5
TYPICAL_FAILURE = 0.02


def find_misses(take: TakeArrays, tried: Sequence[StrokeGroup]) -> Iterator[Finding]:
    """Name groups that fail more often than the rest, the one with most failures first."""
    main = take.main
    failed = main & (take.outcome != TARGET_OUTCOMES.index(PLAYED))
    open_ = np.ones(len(main), dtype=np.bool_) & main
    all_failed = max(1, int(failed.sum()))
    weight = min(1.0, all_failed / main.sum() / TYPICAL_FAILURE)
    rows = list(tried)
    while True:
        best = None
        for one in rows:
            row = _miss_rate(one.strokes & open_, open_, failed)
            if row and (best is None or row[0] > best[0][0]):
                best = (row, one)
        if best is None:
            return
        (excess, count, strokes, others), one = best
        open_ = open_ & ~one.strokes
        rows.remove(one)
        words = f"{count} of {strokes} strokes missed or on a wrong pad, others {100 * others:.1f}%"
        yield make_finding(one, "missed", weight * excess / all_failed, words)


def _miss_rate(inside: Bools, open_: Bools, failed: Bools) -> tuple[float, int, int, float] | None:
    """(failures in excess, failures, strokes, rate of the others), None for no excess."""
    strokes, others = int(inside.sum()), int((open_ & ~inside).sum())
    count, rest = int((inside & failed).sum()), int((open_ & ~inside & failed).sum())
    if strokes < FEWEST_IN_GROUP or others < FEWEST_IN_GROUP or count < FEWEST_FAILURES:
        return None
    rate = rest / others
    share = strokes / (strokes + others)
    if (
        count / strokes < FAILURE_RATIO * rate
        or _binomial_tail(count, count + rest, share) > FINDING_ALPHA / 50
    ):
        return None
    return count - strokes * rate, count, strokes, rate


def _binomial_tail(count: int, total: int, share: float) -> float:
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


ENOUGH_STROKES = 100
"""Fewest main strokes that landed before anything is proposed."""

LEAST_SOFTER_STEPS, LEAST_FADE_STEPS = 8.0, 20.0
"""Smallest differences of velocity worth practising: between hands or drums, and over a take."""

MOST_FINDINGS = 3


def advise(take: TakeArrays, most: int = MOST_FINDINGS) -> tuple[Finding, ...] | None:
    """Return what is worth practising, costliest first; None with too few strokes."""
    if np.count_nonzero(take.played) < ENOUGH_STROKES:
        return None
    tried = stroke_groups(take)
    by_name: dict[str, Finding] = {}
    for one in (
        *find_timing_faults(take, tried),
        *find_misses(take, tried),
        *_find_softer_hand(take, tried),
        *_find_softer_drums(take),
        *_find_fade(take),
    ):
        before = by_name.get(one.name)
        by_name[one.name] = one if before is None else join_findings(before, one)
    ranked = sorted(by_name.values(), key=lambda one: (-one.cost, one.name))
    return tuple(ranked[:most])


def _find_softer_hand(take: TakeArrays, tried: Sequence[StrokeGroup]) -> Iterator[Finding]:
    """Name the hand that plays softer than the other on the same voices and levels."""
    hands = [one for one in tried if one.kind == "hand"]
    if len(hands) != 2:
        return
    both = take.played & (hands[0].strokes | hands[1].strokes)
    chosen = np.flatnonzero(both)
    level = take.voice[chosen] * len(take.names["level"]) + take.level[chosen]
    velocity = take.velocity[chosen]
    rest = velocity - group_means(velocity, level)
    total = product(rest, rest)
    inside = hands[0].strokes[chosen]
    louder, stands_out = mean_gap(rest, inside, FINDING_ALPHA)
    if total <= 0 or abs(louder) < LEAST_SOFTER_STEPS or not stands_out:
        return
    softer = hands[0] if louder < 0 else hands[1]
    explained = louder * louder * inside.sum() * (~inside).sum() / len(rest)
    words = f"{abs(louder):.0f} velocity steps softer than the other hand on the same drums"
    yield make_finding(softer, "soft", 0.5 * explained / total, words)


def _find_softer_drums(take: TakeArrays) -> Iterator[Finding]:
    """Name drums that the hands play softer than their other drums."""
    gaps = voice_gaps(take, by_hand=True)
    hands = take.played & ~take.foot
    total = _uneven_power(take, hands)
    for voice, gap in gaps.items():
        strokes = hands & (take.voice == take.names["voice"].index(voice))
        softer = -(gap.value or 0.0)
        if softer < LEAST_SOFTER_STEPS or not _is_sure(gap, FINDING_ALPHA / len(gaps)):
            continue
        explained = softer * softer * strokes.sum() * (hands & ~strokes).sum() / hands.sum()
        words = f"{softer:.0f} velocity steps softer than the hands' other drums"
        group = StrokeGroup("voice", f"{voice} soft", start=voice, end=voice)
        yield make_finding(group, "soft", 0.5 * explained / (total + explained), words)


def _find_fade(take: TakeArrays) -> Iterator[Finding]:
    """Say where power falls from the start of the take to its end."""
    trend = take_trends(take).session.power
    minutes = float(np.ptp(take.time_s[take.played])) / 60
    fallen = -(trend.value or 0.0) * minutes
    if fallen < LEAST_FADE_STEPS or not _is_sure(trend, FINDING_ALPHA):
        return
    explained = fallen * fallen / 12 * np.count_nonzero(take.played)
    cost = 0.5 * explained / (_uneven_power(take, take.played) + explained)
    words = f"{fallen:.0f} velocity steps softer at the end than at the start"
    yield make_finding(StrokeGroup("take", "power fades"), "fades", cost, words)


def _uneven_power(take: TakeArrays, chosen: Bools) -> float:
    """Return the sum of squares of velocity around the means of voice and level."""
    cell = take.voice[chosen] * len(take.names["level"]) + take.level[chosen]
    rest = take.velocity[chosen] - group_means(take.velocity[chosen], cell)
    return product(rest, rest)


def _is_sure(figure: Figure, alpha: float) -> bool:
    """Return whether chance would hardly (`alpha`) bring up a figure below zero like this one."""
    if figure.value is None or figure.high is None:
        return False
    if figure.free is None:
        widen = normal_quantile(1 - alpha / 2) / Z
    else:
        widen = t_quantile(1 - alpha / 2, figure.free) / t_quantile(0.975, figure.free)
    return figure.value + widen * (figure.high - figure.value) < 0
