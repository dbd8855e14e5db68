"""After a mistake: how many strokes pass until time, power and place are back.

A mistake is a main stroke that was missed or landed on a wrong pad. Strokes are counted from the
last mistake of their pass on, 1 being the next one; strokes before any mistake, or more than
`FURTHEST` after the last one, are the player's usual self.

- `time`: strokes until offsets vary as usual. Each stroke's distance from the median of its limb
  in its block (`trainer.measure.stroke_block`) is taken, so slow wander is nobody's mistake.
- `power`: the same for velocity, around the median of its voice and level in its block.
- `place`: strokes until no more of them fail than usual.

Each is the number of strokes, 0 to `FURTHEST`, after which a change from a raised to the usual
variance (for place: share of failures) explains the take best: maximum likelihood over all places
for the change. 0 means that nothing is raised: a change has to be likelier than none by more than
chance would make it (`LEAST_GAIN`, since twelve places are tried). The interval of 95% holds every
number of strokes whose log-likelihood is within `DROP` of the best. Both are our own choice, after
simulated takes of players who wander.
Withheld with fewer than `FEWEST_MISTAKES` mistakes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, too_few
from trainer.measure.stroke_block import stroke_blocks
from trainer.measure.take_arrays import LEVELS, LIMBS
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Bools, Floats, Ints

FURTHEST = 12
FEWEST_MISTAKES = 8
DROP, LEAST_GAIN = 2.5, 4.5
SMALLEST_VARIANCE = 1e-6


@dataclass(frozen=True, slots=True)
class AfterMistakes:
    """Strokes until time, power and place are back, with 95% intervals."""

    time: Figure
    power: Figure
    place: Figure


def after_mistakes(take: TakeArrays) -> AfterMistakes:
    """Measure how long mistakes last."""
    failed = take.main & (take.outcome != TARGET_OUTCOMES.index(PLAYED))
    since = _strokes_since(take, failed)
    mistakes = int(np.count_nonzero(failed))
    if mistakes < FEWEST_MISTAKES:
        none = too_few("strokes", mistakes, FEWEST_MISTAKES, "mistakes")
        return AfterMistakes(none, none, none)
    block = stroke_blocks(take)
    played = take.played & (block >= 0)
    timed = block * len(LIMBS) + take.limb
    loud = (block * (int(take.voice.max()) + 1) + take.voice) * len(LEVELS) + take.level

    def spread_back(values: Floats, cell: Ints) -> Figure:
        rest, known = _distances(values[played], cell[played])
        squares, place = (rest * rest)[known], since[played][known]
        return _back(place, lambda raised: _variance_fit(squares, raised), mistakes)

    main = take.main
    return AfterMistakes(
        time=spread_back(take.offset_ms, timed),
        power=spread_back(take.velocity, loud),
        place=_back(since[main], lambda raised: _share_fit(failed[main], raised), mistakes),
    )


def _strokes_since(take: TakeArrays, failed: Bools) -> Ints:
    """Return how many main strokes ago the last mistake of its pass was; a great number for none.

    Strokes on one beat count as one.
    """
    since = np.full(len(failed), 10**6)
    order = np.flatnonzero(take.main)
    last, count, row, beat = -1, 0, -1, -1.0
    for at in order.tolist():
        if take.row[at] != row:
            last, row, beat = -1, int(take.row[at]), -1.0
        if take.beat[at] != beat:
            count, beat = count + 1, float(take.beat[at])
        if last >= 0 and count > last:
            since[at] = count - last
        if failed[at]:
            last = count
    return since


def _distances(values: Floats, cell: Ints) -> tuple[Floats, Bools]:
    """Distances from the medians of their cells, and which cells have three values or more."""
    codes, back, size = np.unique(cell, return_inverse=True, return_counts=True)
    order = np.argsort(back, kind="stable")
    parts = np.split(values[order], np.cumsum(size)[:-1]) if len(codes) else []
    middle = np.array([float(np.median(one)) for one in parts])
    rest: Floats = values - middle[back] if len(codes) else values
    return rest, size[back] >= 3


def _back(since: Ints, fit: Callable[[Bools], float], mistakes: int) -> Figure:
    """The place of the change that explains best, with those that explain nearly as well."""
    fits = [fit(since <= place) for place in range(FURTHEST + 1)]
    best = max(fits)
    if best - fits[0] < LEAST_GAIN:
        best, found = fits[0], 0
    else:
        found = fits.index(best)
    near = [place for place, one in enumerate(fits) if one >= best - DROP]
    return Figure(float(found), "strokes", mistakes, float(min(near)), float(max(near)))


def _variance_fit(squares: Floats, raised: Bools) -> float:
    """Log-likelihood of normal distances with one variance where raised and one elsewhere."""
    parts = [squares[raised], squares[~raised]]
    means = [float(np.sum(one)) / max(1, len(one)) for one in parts]
    if not len(parts[0]) or means[0] <= means[1]:
        means = [float(np.sum(squares)) / max(1, len(squares))] * 2
    return -0.5 * math.fsum(
        len(one) * math.log(max(mean, SMALLEST_VARIANCE))
        for one, mean in zip(parts, means, strict=True)
    )


def _share_fit(failed: Bools, raised: Bools) -> float:
    """Log-likelihood of failures with one share where raised and one elsewhere."""
    parts = [failed[raised], failed[~raised]]
    shares = [float(np.count_nonzero(one)) / max(1, len(one)) for one in parts]
    if not len(parts[0]) or shares[0] <= shares[1]:
        shares = [float(np.count_nonzero(failed)) / max(1, len(failed))] * 2
    total = 0.0
    for one, share in zip(parts, shares, strict=True):
        hit = int(np.count_nonzero(one))
        for count, part in ((hit, share), (len(one) - hit, 1 - share)):
            total += count * math.log(part) if count else 0.0
    return total
