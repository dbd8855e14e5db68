"""A finding of the advice, and the test that all of them go through.

A suspect counts only when chance would bring up any such suspect in one take of a hundred (`ALPHA`,
divided by the number tried). Strokes that follow each other are alike, so means are judged by the
independent strokes' worth of their series (`trainer.measure.figure.independent`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.measure.chance import t_quantile
from trainer.measure.figure import independent

if TYPE_CHECKING:
    from trainer.measure.frame import Bools, Floats
    from trainer.measure.suspects import Suspect

FEWEST = 16
"""Fewest strokes of a suspect, and of the strokes it is compared with."""

ALPHA = 0.01


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing worth practising: who, what is wrong with it, how much it costs, and the evidence.

    `kind`, `name`, `limb`, `start` and `end` are those of the suspect. `faults` lists late, early,
    uneven, missed or soft; `evidence` has a line for each. `cost` has no unit: larger is worse.
    """

    kind: str
    name: str
    limb: str
    start: str
    end: str
    faults: tuple[str, ...]
    cost: float
    evidence: tuple[str, ...]


def found(suspect: Suspect, fault: str, cost: float, evidence: str) -> Finding:
    """Return one fault of a suspect as a finding."""
    one, share = suspect, min(1.0, float(cost))
    return Finding(one.kind, one.name, one.limb, one.start, one.end, (fault,), share, (evidence,))


def joined(one: Finding, other: Finding) -> Finding:
    """Return two findings about the same suspect as one."""
    return replace(
        one,
        faults=one.faults + other.faults,
        cost=one.cost + other.cost,
        evidence=one.evidence + other.evidence,
    )


def gap(values: Floats, inside: Bools, alpha: float) -> tuple[float, bool]:
    """Mean inside minus mean outside, and whether chance would hardly (`alpha`) bring it up.

    Welch's t, two-sided, on as many strokes as each series is worth; False for too few.
    """
    one, other = values[inside], values[~inside]
    if len(one) < FEWEST or len(other) < FEWEST:
        return 0.0, False
    difference = float(one.mean() - other.mean())
    parts = [(float(s.var(ddof=1)), max(2.0, independent(s))) for s in (one, other)]
    errors = [variance / worth for variance, worth in parts]
    error = sum(errors)
    if error <= 0:
        return difference, difference != 0
    free = error**2 / sum(e * e / (worth - 1) for e, (_, worth) in zip(errors, parts, strict=True))
    return difference, abs(difference) > t_quantile(1.0 - alpha / 2, free) * math.sqrt(error)
