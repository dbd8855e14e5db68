"""Which suspects are missed, or land on a wrong pad, more often than the rest (exact tail)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.finding import ALPHA, FEWEST, found
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.measure.finding import Finding
    from trainer.measure.frame import Bools, Frame
    from trainer.measure.suspects import Suspect

FAILURES, FAILURE_RATIO = 4, 2.5
TYPICAL_FAILURE = 0.02


def failures(frame: Frame, tried: Sequence[Suspect]) -> Iterator[Finding]:
    """Name suspects that fail more often than the rest, the one with most failures first."""
    main = frame.main
    failed = main & (frame.outcome != TARGET_OUTCOMES.index(PLAYED))
    open_ = np.ones(len(main), dtype=np.bool_) & main
    all_failed = max(1, int(failed.sum()))
    weight = min(1.0, all_failed / main.sum() / TYPICAL_FAILURE)
    rows = list(tried)
    while True:
        best = None
        for one in rows:
            row = _failing(one.strokes & open_, open_, failed)
            if row and (best is None or row[0] > best[0][0]):
                best = (row, one)
        if best is None:
            return
        (excess, count, strokes, others), one = best
        open_ = open_ & ~one.strokes
        rows.remove(one)
        words = (
            f"{count} of {strokes} strokes missed or on a wrong pad, "
            f"others {100 * others:.1f} in a hundred"
        )
        yield found(one, "missed", weight * excess / all_failed, words)


def _failing(inside: Bools, open_: Bools, failed: Bools) -> tuple[float, int, int, float] | None:
    """(failures in excess, failures, strokes, the others' rate), None where nothing stands out."""
    strokes, others = int(inside.sum()), int((open_ & ~inside).sum())
    count, rest = int((inside & failed).sum()), int((open_ & ~inside & failed).sum())
    if strokes < FEWEST or others < FEWEST or count < FAILURES:
        return None
    rate = rest / others
    share = strokes / (strokes + others)
    if count / strokes < FAILURE_RATIO * rate or _tail(count, count + rest, share) > ALPHA / 50:
        return None
    return count - strokes * rate, count, strokes, rate


def _tail(count: int, total: int, share: float) -> float:
    """Chance of `count` or more of `total` falling into a share of the strokes."""
    log_in, log_out = math.log(share), math.log1p(-share)
    terms = (
        math.lgamma(total + 1)
        - math.lgamma(k + 1)
        - math.lgamma(total - k + 1)
        + k * log_in
        + (total - k) * log_out
        for k in range(count, total + 1)
    )
    return min(1.0, sum(math.exp(term) for term in terms))
