"""Unisons: two limbs meant to land together, the gap between them, and which of them are flams.

What a unison is, and which of its two strokes comes first, says `trainer.measure.stroke`: every two
main strokes on one beat, hand before foot, right before left. The gap is the first limb's offset
minus the second's, in ms: **minus means the hand (or the right) lands first**.

`size` is the mean gap without its sign. `flams` is the share of unisons that listeners would notice
as two strokes: a gap of `ORDER_THRESHOLD_MS` or more (Hirsh 1959, see `trainer.measure.threshold`).
Unisons in a row are alike where limbs wander apart: the share counts them as the spread of the gaps
does. Kinds that do not occur are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import ODDS_OF_GAPS, Figure, mean, share, spread, spread_memory
from trainer.measure.take_arrays import indexes_by_code
from trainer.measure.threshold import ORDER_THRESHOLD_MS

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Floats, Ints

UNISON_KINDS = ("hand+hand", "hand+foot", "foot+foot")


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


def unisons(take: TakeArrays, flam_ms: float = ORDER_THRESHOLD_MS) -> Unisons:
    """Measure the gaps of all unisons; from `flam_ms` on a gap counts as a flam."""
    first, second = unison_strokes(take)
    gaps = take.offset_ms[first] - take.offset_ms[second]
    feet = take.foot[first].astype(np.int64) + take.foot[second]
    limbs = take.limb[first] * len(take.names["limb"]) + take.limb[second]
    every = np.ones(len(gaps), dtype=np.bool_)
    return Unisons(
        by_kind={
            UNISON_KINDS[kind]: _unison_gap(gaps[those], flam_ms)
            for kind, those in indexes_by_code(feet, every)
        },
        by_limbs={
            _limbs_name(take, pair): _unison_gap(gaps[those], flam_ms)
            for pair, those in indexes_by_code(limbs, every)
        },
    )


def unison_strokes(take: TakeArrays) -> tuple[Ints, Ints]:
    """Return the first and second strokes (places in the take) of all unisons, in time order."""
    at = np.full((int(take.row.max(initial=-1)) + 1, int(take.unisons.max(initial=-1)) + 1), -1)
    known = np.flatnonzero(take.played & (take.note < at.shape[1]))
    at[take.row[known], take.note[known]] = known
    first, second = at[:, take.unisons[:, 0]], at[:, take.unisons[:, 1]]
    both = (first >= 0) & (second >= 0)
    return first[both], second[both]


def _unison_gap(gaps: Floats, flam_ms: float) -> UnisonGap:
    # Stamps are exact to far less than a microsecond; the edge must not hang on float dust.
    flams = int(np.count_nonzero(np.abs(gaps) >= flam_ms - 1e-6))
    # Limbs that wander apart have their wide gaps in a row.
    worth = len(gaps) / spread_memory(gaps) if len(gaps) else None
    return UnisonGap(
        mean=mean(gaps, "ms", odds=ODDS_OF_GAPS),
        spread=spread(gaps, "ms"),
        size=mean(np.abs(gaps), "ms", odds=ODDS_OF_GAPS),
        flams=share(flams, len(gaps), "unisons", worth),
    )


def _limbs_name(take: TakeArrays, pair: int) -> str:
    first, second = divmod(pair, len(take.names["limb"]))
    return f"{take.name('limb', first)}+{take.name('limb', second)}"
