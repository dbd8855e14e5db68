"""Unisons: two limbs meant to land together, the gap between them, and which of them are flams.

Two main strokes on one beat of one pass, both on the right pad, are a unison; three limbs at once
make three. The gap is the first limb's offset minus the second's, in ms. The first limb is the hand
where a hand meets a foot, otherwise the right one (RH before LH, RF before LF), otherwise the upper
voice of the kit's order: **minus means the hand (or the right) lands first**.

`size` is the mean gap without its sign. `flams` is the share of unisons that listeners would notice
as two strokes: a gap of `ORDER_THRESHOLD_MS` or more (Hirsh 1959, see `trainer.measure.threshold`).
Kinds that do not occur are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, mean, share, spread
from trainer.measure.take_arrays import indexes_by_code
from trainer.measure.threshold import ORDER_THRESHOLD_MS

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Floats, Ints

UNISON_KINDS = ("hand+hand", "hand+foot", "foot+foot")
LIMBS_AT_ONCE = 4


@dataclass(frozen=True, slots=True)
class UnisonGap:
    """The gaps of one kind of unison: signed mean, spread and mean size in ms, share of flams."""

    mean: Figure
    spread: Figure
    size: Figure
    flams: Figure


@dataclass(frozen=True, slots=True)
class Unisons:
    """Gaps by kind (hand+hand, hand+foot, foot+foot) and by pair of limbs ("RH+RF")."""

    by_kind: dict[str, UnisonGap]
    by_limbs: dict[str, UnisonGap]


def unisons(frame: TakeArrays, flam_ms: float = ORDER_THRESHOLD_MS) -> Unisons:
    """Measure the gaps of all unisons; from `flam_ms` on a gap counts as a flam."""
    first, second = _unison_pairs(frame)
    gaps = frame.offset_ms[first] - frame.offset_ms[second]
    feet = frame.foot[first].astype(np.int64) + frame.foot[second]
    limbs = frame.limb[first] * len(frame.names["limb"]) + frame.limb[second]
    every = np.ones(len(gaps), dtype=np.bool_)
    return Unisons(
        by_kind={
            UNISON_KINDS[kind]: _unison_gap(gaps[those], flam_ms)
            for kind, those in indexes_by_code(feet, every)
        },
        by_limbs={
            _limbs_name(frame, pair): _unison_gap(gaps[those], flam_ms)
            for pair, those in indexes_by_code(limbs, every)
        },
    )


def _unison_pairs(frame: TakeArrays) -> tuple[Ints, Ints]:
    """Every two strokes of one beat, ordered hand before foot, right before left, upper first."""
    chosen = np.flatnonzero(frame.played)
    keys = (
        frame.voice[chosen],
        frame.limb[chosen],
        frame.foot[chosen],
        frame.beat[chosen],
        frame.row[chosen],
    )
    line = chosen[np.lexsort(keys)]
    beat, row = frame.beat[line], frame.row[line]
    found = []
    for away in range(1, LIMBS_AT_ONCE):
        together = (beat[away:] == beat[:-away]) & (row[away:] == row[:-away])
        at = np.flatnonzero(together)
        found.append((line[at], line[at + away]))
    first = np.concatenate([one for one, _ in found])
    second = np.concatenate([one for _, one in found])
    in_time = np.argsort(frame.time_s[first], kind="stable")
    return first[in_time], second[in_time]


def _unison_gap(gaps: Floats, flam_ms: float) -> UnisonGap:
    # Stamps are exact to far less than a microsecond; the edge must not hang on float dust.
    flams = int(np.count_nonzero(np.abs(gaps) >= flam_ms - 1e-6))
    return UnisonGap(
        mean=mean(gaps, "ms"),
        spread=spread(gaps, "ms"),
        size=mean(np.abs(gaps), "ms"),
        flams=share(flams, len(gaps), "unisons"),
    )


def _limbs_name(frame: TakeArrays, pair: int) -> str:
    first, second = divmod(pair, len(frame.names["limb"]))
    return f"{frame.name('limb', first)}+{frame.name('limb', second)}"
