"""Blocks: strokes close together in time, within which a player's slow wander hardly moves.

A pass is cut into blocks of `BLOCK_STROKES` main strokes. Wander that is slower than a block shifts
all its strokes alike, so what is measured within blocks is free of it, and much surer:

- **spread within blocks**: standard deviation around the mean of each cell, a cell being the
  strokes of one kind (a limb's, say) in one block. Its degrees of freedom are the strokes less the
  cells, over the correlation time of the squared distances (`trainer.measure.figure`).
- **difference within blocks**: the mean of one kind of strokes minus that of another in the same
  block, averaged over blocks with the weight n m / (n + m) of their counts; Student's t on the
  blocks, as many as their weights are worth (Kish 1965). Limbs that wander each on their own make
  neighbouring blocks alike: their memory widens the interval as it does that of a mean. With fewer
  than `FEWEST_BLOCKS` blocks that have both, it is the difference of the two means of the take.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import (
    SLOW_WAVES,
    SPREAD_COUNT,
    SURE,
    Figure,
    correlation_time,
    difference,
    mean,
    slow_deviation,
    spread_figure,
    too_few,
)
from trainer.measure.threshold import t_quantile

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools, Floats, Ints

BLOCK_STROKES = 24

FEWEST_BLOCKS = 3
"""Fewest blocks with both kinds of strokes that a difference is taken block by block from."""

LONG_BLOCKS = 1.5
"""Blocks worth one independent block beyond which a difference is read from its slowest waves."""


def stroke_blocks(take: TakeArrays) -> Ints:
    """Return the block of each target; -1 for grace strokes and passes under half a block."""
    block = np.full(len(take.main), -1)
    block[take.main] = block_numbers(take.row[take.main])
    return block


def spread_within(values: Floats, cell: Ints, unit: str) -> Figure:
    """Return the spread of values, in time order, around the mean of each one's cell."""
    _, cell = np.unique(cell, return_inverse=True)
    size = np.bincount(cell)[cell] if len(cell) else cell
    values, cell, size = values[size > 1], cell[size > 1], size[size > 1]
    free = len(values) - len(np.unique(cell))
    if free < SPREAD_COUNT - 1:
        return too_few(unit, len(values), SPREAD_COUNT)
    sums = np.bincount(cell, weights=values)
    rest = values - sums[cell] / size
    square = rest * rest * size / (size - 1)
    sd = math.sqrt(math.fsum((rest * rest).tolist()) / free)
    return spread_figure(sd, unit, len(values), free / correlation_time(square))


def difference_within(values: Floats, inside: Bools, block: Ints, unit: str) -> Figure:
    """Return the mean of the values inside minus that of the others, block by block.

    `inside` and `block` are parallel to the values. The count is that of the rarer kind.
    """
    count = int(min(np.count_nonzero(inside), np.count_nonzero(~inside)))
    codes, block = np.unique(block, return_inverse=True)
    few, many = (np.bincount(block[one], minlength=len(codes)) for one in (inside, ~inside))
    both = (few > 0) & (many > 0)
    if np.count_nonzero(both) < FEWEST_BLOCKS:
        return difference(mean(values[inside], unit), mean(values[~inside], unit))
    sums = [
        np.bincount(block[one], weights=values[one], minlength=len(codes))[both]
        for one in (inside, ~inside)
    ]
    few, many = few[both], many[both]
    return _weighted_mean(sums[0] / few - sums[1] / many, few * many / (few + many), unit, count)


def _weighted_mean(values: Floats, weight: Floats, unit: str, count: int) -> Figure:
    """The weighted mean of values in time order; `count` is only passed on."""
    share = weight / math.fsum(weight.tolist())
    centre = math.fsum((share * values).tolist())
    worth = 1 / math.fsum((share * share).tolist())
    free = max(1.0, worth - 1)
    error = math.sqrt(math.fsum((share * share * (values - centre) ** 2).tolist()) * worth / free)
    time = correlation_time(values)
    half = t_quantile(0.5 + SURE / 2, free) * error * math.sqrt(time)
    if time > LONG_BLOCKS:
        slow = t_quantile(0.5 + SURE / 2, SLOW_WAVES) * slow_deviation(values) / math.sqrt(worth)
        half, free = max((half, free), (slow, float(SLOW_WAVES)))
    return Figure(centre, unit, count, centre - half, centre + half, free=free)


def block_numbers(row: Ints) -> Ints:
    """Number the blocks of the strokes of each pass; -1 for a pass too short for half a block."""
    starts = np.flatnonzero(np.diff(row, prepend=-1))
    lengths = np.diff(np.append(starts, len(row)))
    at = np.arange(len(row)) - np.repeat(starts, lengths)
    whole = np.repeat(np.maximum(1, lengths // BLOCK_STROKES), lengths)
    # A short rest goes to the last block of its pass.
    block = np.minimum(at // BLOCK_STROKES, whole - 1)
    most = int(whole.max()) if len(whole) else 1
    numbered: Ints = np.repeat(np.arange(len(starts)), lengths) * most + block
    return np.where(np.repeat(lengths, lengths) >= BLOCK_STROKES // 2, numbered, -1)
