"""Staying power: whether spread, power and errors change as a rung, or a session, goes on.

Main strokes are taken in blocks of `BLOCK` in order, inside one pass; each block has a spread (ms,
around its own mean), a mean velocity and a share of errors (missed or wrong pad, per cent). A trend
is the robust slope (`trainer.measure.trend`) of the blocks over time, a minute of the session's
clock, rests included; plus grows.

- `rung`: over the blocks of each rung, all rungs taken together.
- `session`: over all blocks of the same tempo. A ladder that never returns to a tempo tells nothing
  here, because faster is harder: the figures are then withheld.

A trend whose interval holds zero is none that can be told. Below `FEWEST` blocks: None.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, withheld
from trainer.measure.trend import trend
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from trainer.measure.frame import Floats, Frame, Ints

BLOCK = 24


@dataclass(frozen=True, slots=True)
class Trends:
    """Change a minute of spread (ms), power (velocity) and errors (per cent points)."""

    spread: Figure
    power: Figure
    errors: Figure


@dataclass(frozen=True, slots=True)
class StayingPower:
    """Trends inside the rungs, and over the session at equal tempo."""

    rung: Trends
    session: Trends


@dataclass(frozen=True, slots=True)
class _Blocks:
    """One entry a block: its time in minutes, rung, tempo, spread, power and errors."""

    time_min: Floats
    rung: Ints
    tempo: Floats
    spread: Floats
    power: Floats
    errors: Floats


def staying_power(frame: Frame) -> StayingPower:
    """Measure how a take changes with time."""
    blocks = _blocks(frame)
    several = len(np.unique(blocks.rung)) > 1
    by_rung = _trends(blocks, blocks.rung.astype(np.float64))
    if not several:
        return StayingPower(rung=by_rung, session=by_rung)
    tempos, counts = np.unique(_rung_tempos(blocks), return_counts=True)
    if len(tempos) > 1 and counts.max() == 1:
        none = [
            withheld(unit, len(blocks.rung), "no tempo was played twice")
            for unit in ("ms/min", "velocity/min", "%/min")
        ]
        return StayingPower(rung=by_rung, session=Trends(*none))
    return StayingPower(rung=by_rung, session=_trends(blocks, blocks.tempo))


def _rung_tempos(blocks: _Blocks) -> Floats:
    """The tempo of each rung, once a rung."""
    _, first = np.unique(blocks.rung, return_index=True)
    return blocks.tempo[first]


def _trends(blocks: _Blocks, stretch: Floats) -> Trends:
    def slope(values: Floats, unit: str) -> Figure:
        points = []
        for one in np.unique(stretch):
            those = (stretch == one) & ~np.isnan(values)
            points.append((blocks.time_min[those], values[those]))
        return trend(points, unit, of="blocks")

    return Trends(
        spread=slope(blocks.spread, "ms/min"),
        power=slope(blocks.power, "velocity/min"),
        errors=slope(blocks.errors, "%/min"),
    )


def _blocks(frame: Frame) -> _Blocks:
    main = np.flatnonzero(frame.main)
    block = _numbered(frame.row[main])
    main, block = main[block >= 0], block[block >= 0]
    _, first, block = np.unique(block, return_index=True, return_inverse=True)
    landed = frame.played[main]
    strokes, inside = main[landed], block[landed]

    def total(weights: Floats, of: Ints) -> Floats:
        return np.bincount(of, weights, len(first)).astype(np.float64)

    written = total(np.ones(len(main)), block)
    hit = total(np.ones(len(strokes)), inside)
    # Too few for a figure: NaN, which the trends leave out.
    known, free = (np.where(hit > few, hit - few, np.nan) for few in (0, 1))
    offset = frame.offset_ms[strokes]
    around = offset - (total(offset, inside) / known)[inside]
    wrong = frame.outcome[main] != TARGET_OUTCOMES.index(PLAYED)
    return _Blocks(
        time_min=total(frame.time_s[main], block) / written / 60,
        rung=frame.rung[main[first]],
        tempo=frame.tempo[main[first]],
        spread=np.sqrt(total(around**2, inside) / free),
        power=total(frame.velocity[strokes], inside) / known,
        errors=100 * total(wrong.astype(np.float64), block) / written,
    )


def _numbered(row: Ints) -> Ints:
    """Number the blocks of the strokes of each pass; -1 for a pass too short for half a block."""
    starts = np.flatnonzero(np.diff(row, prepend=-1))
    lengths = np.diff(np.append(starts, len(row)))
    at = np.arange(len(row)) - np.repeat(starts, lengths)
    whole = np.repeat(np.maximum(1, lengths // BLOCK), lengths)
    # A short rest goes to the last block of its pass.
    block = np.minimum(at // BLOCK, whole - 1)
    most = int(whole.max()) if len(whole) else 1
    numbered: Ints = np.repeat(np.arange(len(starts)), lengths) * most + block
    return np.where(np.repeat(lengths, lengths) >= BLOCK // 2, numbered, -1)
