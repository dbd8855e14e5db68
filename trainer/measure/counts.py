"""Counts of outcomes: how many strokes were written, how many landed, and what else was hit.

Targets count as `played`, `wrong_pad` or `missed`, grace strokes included; hits that belong to no
target count as `extra`, `double` or `crosstalk`, and `rim` counts rims where the head was written
(their targets count as played). A share is per cent of the written strokes.

Strays more than half a quarter note (0.1 to 0.25 s) before the first written stroke or after the
last one, a lead-in or somebody noodling, are no strays: they count as `before` and `after`.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.measure.figure import Figure, share
from trainer.practice import outcomes
from trainer.practice.course import seconds_per_quarter
from trainer.practice.ledger import early_s

if TYPE_CHECKING:
    from trainer.practice.outcomes import Judged


@dataclass(frozen=True, slots=True)
class Counts:
    """How many targets and hits there were, by outcome; `errors` are missed and wrong pad."""

    targets: int
    hits: int
    played: int
    wrong_pad: int
    missed: int
    extra: int
    double: int
    rim: int
    crosstalk: int
    before: int
    after: int
    errors: Figure


def counts(judged: Judged) -> Counts:
    """Count the outcomes of a take."""
    of_target, of_hit = Counter(judged.target_outcome), Counter(judged.hit_outcome)
    wrong, missed = of_target[outcomes.WRONG_PAD], of_target[outcomes.MISSED]
    before, after = _outside(judged)
    return Counts(
        targets=len(judged.targets),
        hits=len(judged.hits),
        played=of_target[outcomes.PLAYED],
        wrong_pad=wrong,
        missed=missed,
        extra=of_hit[outcomes.EXTRA] - before - after,
        double=of_hit[outcomes.DOUBLE],
        rim=of_hit[outcomes.RIM],
        crosstalk=of_hit[outcomes.CROSSTALK],
        before=before,
        after=after,
        errors=share(wrong + missed, len(judged.targets)),
    )


def limits(judged: Judged) -> tuple[float, float]:
    """Return from when to when hits can belong to a take, in seconds on the session's clock."""
    targets, passes = judged.targets, judged.course.passes
    if not targets or not passes:
        return -math.inf, math.inf
    reach_s = early_s(seconds_per_quarter(judged.course.pattern, passes[0].tempo))
    due = [target.time_s for target in targets]
    return min(due) - reach_s, max(due) + reach_s


def _outside(judged: Judged) -> tuple[int, int]:
    """Count the strays before and after everything that is written."""
    first_s, last_s = limits(judged)
    strays = [
        hit.time_s
        for hit, outcome in zip(judged.hits, judged.hit_outcome, strict=True)
        if outcome == outcomes.EXTRA
    ]
    return sum(one < first_s for one in strays), sum(one > last_s for one in strays)
