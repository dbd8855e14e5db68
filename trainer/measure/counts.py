"""Counts of outcomes: how many strokes were written, how many landed, and what else was hit.

Targets count as `played`, `wrong_pad` or `missed`, grace strokes included; hits that belong to no
target count as `extra`, `double` or `crosstalk`, and `rim` counts rims where the head was written
(their targets count as played). A share is per cent of the written strokes.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.measure.figure import Figure, share
from trainer.practice import outcomes

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
    errors: Figure


def counts(judged: Judged) -> Counts:
    """Count the outcomes of a take."""
    of_target, of_hit = Counter(judged.target_outcome), Counter(judged.hit_outcome)
    wrong, missed = of_target[outcomes.WRONG_PAD], of_target[outcomes.MISSED]
    return Counts(
        targets=len(judged.targets),
        hits=len(judged.hits),
        played=of_target[outcomes.PLAYED],
        wrong_pad=wrong,
        missed=missed,
        extra=of_hit[outcomes.EXTRA],
        double=of_hit[outcomes.DOUBLE],
        rim=of_hit[outcomes.RIM],
        crosstalk=of_hit[outcomes.CROSSTALK],
        errors=share(wrong + missed, len(judged.targets)),
    )
