"""Offsets: how early or late strokes land, how much that varies, and how it creeps inside a pass.

An offset is hit time minus target time in milliseconds, after the kit's latency is taken out; minus
is early. Only main strokes that landed on the right pad count: the distance of a grace stroke is a
matter of touch, and a stroke on another pad may belong elsewhere. There is no window here: every
pair that the matcher made counts, however far off. The spread is the standard deviation (n - 1).
Groups without a played stroke are left out; figures with too few strokes are None.

`around_wander` is the spread about the player's own wander: within blocks of some 24 strokes,
around the mean of each limb's strokes there (`trainer.measure.stroke_block`). It keeps control
apart from slow coming and going, and two takes apart with far fewer strokes than the whole spread.

Drift is how the offset creeps inside a pass, in ms a minute: plus falls behind (drags), minus runs
ahead (rushes). It is the robust slope of `trainer.measure.trend` over the strokes of each pass, so
it does not see what happens between passes; 60 ms a minute is a tempo 0.1% too slow.

Errors of the limbs go together (Fujii and others 2011), so a mean offset shared by all limbs says
little about skill: it contains the kit's latency and the player's feel. Look at the differences.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, mean, spread, withheld
from trainer.measure.stroke_block import spread_within, stroke_blocks
from trainer.measure.take_arrays import LIMBS, indexes_by_code
from trainer.measure.trend import robust_slope

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Floats


DRIFT_LEAST_S = 20.0
"""Least playing that a drift is measured from.

The standard error of a slope over T seconds of even strokes is their spread times sqrt(12 / n) / T:
with eight strokes a second and a spread of 10 ms, 8 ms a minute after 20 s, and 66 after 5.
"""


@dataclass(frozen=True, slots=True)
class OffsetCentre:
    """Mean and spread of one group of strokes, in ms."""

    mean: Figure
    spread: Figure


@dataclass(frozen=True, slots=True)
class Offsets:
    """Offsets of the whole take and of each voice, limb, step, note value and bar.

    Steps are places in the bar in quarter notes from its start, as exact fractions; bars count
    from 0.
    """

    mean: Figure
    spread: Figure
    around_wander: Figure
    drift: Figure
    by_voice: dict[str, OffsetCentre]
    by_limb: dict[str, OffsetCentre]
    by_step: dict[str, OffsetCentre]
    by_value: dict[str, OffsetCentre]
    by_bar: dict[str, OffsetCentre]


def offsets(take: TakeArrays) -> Offsets:
    """Measure the offsets of a take."""
    whole = offset_centre(take.offset_ms[take.played])
    return Offsets(
        mean=whole.mean,
        spread=whole.spread,
        around_wander=around_wander(take),
        drift=drift(take),
        by_voice=offsets_by(take, "voice"),
        by_limb=offsets_by(take, "limb"),
        by_step=offsets_by(take, "step"),
        by_value=offsets_by(take, "value"),
        by_bar=offsets_by(take, "bar"),
    )


FITTED_WORDS = (
    "the start was fitted to the strokes, so the take as a whole is neither early nor late"
)


def without_means(found: Offsets) -> Offsets:
    """Return the offsets of a take whose start was fitted: the means of all and of each limb go."""
    return replace(
        found,
        mean=_without_mean(found.mean),
        by_limb={
            name: replace(one, mean=_without_mean(one.mean)) for name, one in found.by_limb.items()
        },
    )


def _without_mean(one: Figure) -> Figure:
    return withheld(one.unit, one.count, one.why or FITTED_WORDS)


def offset_centre(values: Floats) -> OffsetCentre:
    """Return mean and spread of offsets in ms, in time order."""
    return OffsetCentre(mean(values, "ms"), spread(values, "ms"))


def around_wander(take: TakeArrays) -> Figure:
    """Return the spread about each limb's own wander, in ms."""
    block = stroke_blocks(take)
    strokes = np.flatnonzero(take.played & (block >= 0))
    cell = block[strokes] * len(LIMBS) + take.limb[strokes]
    return spread_within(take.offset_ms[strokes], cell, "ms")


def drift(take: TakeArrays) -> Figure:
    """Return how offsets creep inside a pass, in ms a minute (plus falls behind)."""
    passes = [strokes for _, strokes in indexes_by_code(take.row, take.played)]
    played_s = sum(float(np.ptp(take.time_s[strokes])) for strokes in passes)
    if played_s < DRIFT_LEAST_S:
        why = f"needs {DRIFT_LEAST_S:g} s of playing, has {played_s:.0f}"
        return withheld("ms/min", sum(map(len, passes)), why)
    points = [(take.time_s[strokes], take.offset_ms[strokes]) for strokes in passes]
    return robust_slope(points, "ms/min", times=60.0)


def offsets_by(take: TakeArrays, key: str) -> dict[str, OffsetCentre]:
    """Return mean and spread of each group of one column that holds a played stroke."""
    return {
        take.name(key, code): offset_centre(take.offset_ms[strokes])
        for code, strokes in indexes_by_code(take.codes(key), take.played)
    }
