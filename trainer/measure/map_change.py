"""The hit map of one take over that of another: of each cell, what differs and how surely.

Every figure is the first take's minus the second's, with its interval of 95 % (see
`trainer.measure.figure.difference`): mean offset in ms (minus: the first is earlier), spread in ms
(minus: the first is tighter), faults in per cent of the strokes due (missed or on a wrong pad;
minus: the first has fewer) and power in MIDI velocity (minus: the first is softer). A figure that
either take cannot tell is withheld. Each cell is looked at by itself: of twenty in which nothing
has changed, one will look changed by chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure import figure
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.measure.figure import Figure
    from trainer.measure.frame import Bools
    from trainer.measure.hit_map import Landed


@dataclass(frozen=True, slots=True)
class CellChange:
    """What differs between two takes in some notes taken together, the first minus the second."""

    offset: Figure
    spread: Figure
    faults: Figure
    power: Figure


def cell_change(
    first: tuple[Landed, Bools], second: tuple[Landed, Bools], notes: Sequence[int]
) -> CellChange:
    """Return what differs in some notes between the chosen targets of two takes."""
    pairs = zip(_told(*first, notes), _told(*second, notes), strict=True)
    return CellChange(*(figure.difference(one, other) for one, other in pairs))


def _told(take: Landed, which: Bools, notes: Sequence[int]) -> tuple[Figure, ...]:
    """Return mean offset, spread, faults and mean power of some notes."""
    chosen = which & np.isin(take.note, notes)
    on_pad = chosen & (take.outcome == TARGET_OUTCOMES.index(PLAYED))
    offset, due = take.offset_ms[on_pad], int(np.sum(chosen))
    return (
        figure.mean(offset, "ms"),
        figure.spread(offset, "ms"),
        figure.share(due - int(np.sum(on_pad)), due),
        figure.mean(take.velocity[on_pad], ""),
    )
