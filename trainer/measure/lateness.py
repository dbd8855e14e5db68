"""Which suspects are late, early or uneven, apart from the slow wander of the whole player.

A suspect is compared with what its strokes have around them:

- a note value with the stretches of other values before and after it (`trainer.measure.stretches`);
- a move, a unison or a change with the rest of its own limb's strokes around (`LIMB_STROKES`);
- a limb with the others (less the mean of all strokes around, `WANDER_STROKES` in all), where the
  parts of the take must agree: limbs that wander each for themselves are left alone.

The effect of each one found is taken out of the offsets before the next is looked for, so a slow
move does not also make its hand and its drum look late.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.chance import t_quantile
from trainer.measure.finding import ALPHA, found, gap
from trainer.measure.stretches import value_gap

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from trainer.measure.finding import Finding
    from trainer.measure.frame import Bools, Floats, Frame, Ints
    from trainer.measure.suspects import Suspect

    Test = Callable[[Floats, Bools, float], tuple[float, bool]]
    Row = tuple[Suspect, Bools]

PARTS, FEWEST_A_PART, ENOUGH_A_PART = 6, 4, 10
"""Parts of a take that have to agree, and a suspect's strokes for a part to have a say, and to be
counted on."""

WANDER_STROKES, LIMB_STROKES = 33, 17
LATE_MS, WIDER = 4.0, 1.2

LIMBS = ("hand", "foot")
"""Kinds of suspects that are whole limbs."""


def lateness(frame: Frame, tried: Sequence[Suspect]) -> Iterator[Finding]:
    """Name late, early and uneven suspects: note values first, then what is local, then limbs."""
    chosen = np.flatnonzero(frame.played)
    offsets, limb = frame.offset_ms[chosen].copy(), frame.limb[chosen]
    total = float(np.sum(_without_wander(offsets) ** 2))
    if total <= 0:
        return
    rows = [(one, one.strokes[chosen]) for one in tried]
    limit = ALPHA / max(1, len(rows))
    values = [row for row in rows if row[0].kind == "value"]
    local = [row for row in rows if row[0].kind not in ("value", *LIMBS)]
    whole = [row for row in rows if row[0].kind in LIMBS]

    hands, value = ~frame.foot[chosen], frame.value[chosen]

    def of_value(rest: Floats, inside: Bools, alpha: float) -> tuple[float, bool]:
        return value_gap(rest[hands], value[hands], inside[hands], alpha)

    for finding, inside, later in _late(offsets.copy(), values, total, limit, of_value):
        offsets[inside] -= later
        yield finding
    for finding, inside, later in _late(_within_limbs(offsets, limb), local, total, limit, _steady):
        offsets[inside] -= later
        yield finding
    for finding, _, _ in _late(_without_wander(offsets), whole, total, limit, _steady):
        yield finding
    yield from _uneven(
        _within_limbs(_without_wander(offsets, LIMB_STROKES), limb), [*local, *whole], total, limit
    )


def _late(
    rest: Floats, rows: list[Row], total: float, alpha: float, test: Test
) -> Iterator[tuple[Finding, Bools, float]]:
    """Name suspects with another mean offset, taking each out of `rest` in place.

    Yields each with its strokes and how much later they are, in ms.
    """
    while True:
        best = None
        for one, inside in rows:
            later, stands_out = test(rest, inside, alpha)
            explained = later * later * inside.sum() * (~inside).sum() / len(rest)
            big = abs(later) >= LATE_MS and stands_out
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
        told = f"{abs(later):.0f} ms {words} than the other strokes ({count} strokes)"
        yield found(one, fault, explained / total, told), inside, later


def _uneven(rest: Floats, rows: list[Row], total: float, alpha: float) -> Iterator[Finding]:
    """Name suspects with a wider spread, narrowing each in `rest` in place."""
    while True:
        away = np.abs(rest)
        best = None
        for one, inside in rows:
            wider, stands_out = gap(away, inside, alpha)
            if not (stands_out and wider > 0):
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
        yield found(one, "uneven", explained / total, words)


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


def _steady(values: Floats, inside: Bools, alpha: float) -> tuple[float, bool]:
    """The gap to the strokes around, and whether it is beyond chance all through the take."""
    later, stands_out = gap(values, inside, alpha)
    return later, stands_out and _lasting(values, inside, later)


def _lasting(values: Floats, inside: Bools, later: float) -> bool:
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
        return all(one * later > 0 for one in gaps)
    error = float(np.std(gaps, ddof=1)) / math.sqrt(PARTS)
    return abs(float(np.mean(gaps))) > t_quantile(1.0 - ALPHA / 8, PARTS - 1) * error
