"""The hard spot of a take: its worst bar, how a stretch of bars was played, and what changed in it.

A bar is as bad as what is not clean in it (`trainer.measure.clean`), each figure by how far it is
over its limit; bars that are alike are ranked by their spread. Figures of a stretch: the share of
its strokes that were missed or on a wrong pad, in percent, and the spread of the others in ms. Two
takes differ where the 95% interval of the difference leaves out zero (`trainer.measure.figure`).
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.clean import DEFAULT_TOLERANCE, strokes_verdict
from trainer.measure.figure import Figure, difference, is_clear, share, spread
from trainer.measure.stroke import judged_strokes
from trainer.pattern.model import bar_of
from trainer.practice.outcomes import EXTRA, PLAYED

if TYPE_CHECKING:
    from collections.abc import Collection

    from trainer.measure.clean import Tolerance
    from trainer.measure.stroke import JudgedStroke
    from trainer.practice.outcomes import Judged

BETTER, WORSE, SAME = "better", "worse", "no clear change"


@dataclass(frozen=True, slots=True)
class SpotFigures:
    """How a stretch of bars was played: its strokes, faults (%), spread (ms), and if it was clean.

    `clean` is by the same limits as a whole take, of the strokes alone.
    """

    strokes: int
    faults: Figure
    spread: Figure
    clean: bool


def strokes_by_bar(judged: Judged) -> dict[int, list[JudgedStroke]]:
    """Return the written strokes of a take by their bar of the pattern, from 0."""
    found: dict[int, list[JudgedStroke]] = defaultdict(list)
    for stroke in judged_strokes(judged):
        found[bar_of(judged.course.pattern, stroke.note.beat)].append(stroke)
    return dict(found)


def worst_bar(judged: Judged, allowed: Tolerance = DEFAULT_TOLERANCE) -> int | None:
    """Return the bar (from 0) that was played worst; None without a written stroke."""

    def badness(strokes: list[JudgedStroke]) -> tuple[float, float]:
        verdict = strokes_verdict(strokes, {}, allowed)
        wide = _spread(strokes).value
        return sum(check.excess for check in verdict.failed), wide or 0.0

    bars = strokes_by_bar(judged)
    return max(sorted(bars), key=lambda bar: badness(bars[bar]), default=None)


def spot_figures(
    judged: Judged, bars: Collection[int], allowed: Tolerance = DEFAULT_TOLERANCE
) -> SpotFigures:
    """Return how some bars of a take were played."""
    own = [one for bar, strokes in strokes_by_bar(judged).items() if bar in bars for one in strokes]
    faults = sum(one.outcome != PLAYED for one in own)
    return SpotFigures(
        len(own),
        share(faults, len(own)),
        _spread(own),
        strokes_verdict(own, {EXTRA: 0}, allowed).clean,
    )


def spot_change(before: SpotFigures, after: SpotFigures) -> str:
    """Return whether a spot is BETTER, WORSE or the SAME: by its faults, else by its spread."""
    for one, other in ((after.faults, before.faults), (after.spread, before.spread)):
        change = difference(one, other)
        if is_clear(change) and change.value:
            return BETTER if change.value < 0 else WORSE
    if after.clean is not before.clean:
        return BETTER if after.clean else WORSE
    return SAME


def _spread(strokes: list[JudgedStroke]) -> Figure:
    played = [one.offset_ms for one in strokes if one.outcome == PLAYED and not one.note.grace]
    return spread(np.array([one or 0.0 for one in played], dtype=np.float64), "ms")
