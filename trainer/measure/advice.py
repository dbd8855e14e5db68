"""What is worth practising: the few things that cost a take most, each with its evidence.

Suspects (`trainer.measure.suspects`) are moves (a hand from drum to drum), limbs, unisons of hand
and foot, note values and changes of note value. Each is tried against the other strokes of the take
in four ways:

- *late* or *early*: its mean offset differs from the strokes around (`trainer.measure.lateness`);
- *uneven*: its spread about its own limb's wander is wider (Brown and Forsythe's 1974 test: Welch's
  t on absolute deviations); not asked of note values, which differ in the time they span;
- *missed*: more of its strokes are missed or land on a wrong pad (`trainer.measure.failing`);
- *soft*, hands only: its power is below the other hand's on the same voice and level.

The suspect that explains most is named first, its effect is taken out, and the rest is tried again.
A suspect counts only when chance would hardly bring it up (`trainer.measure.finding`) and when the
effect is large enough to be worth a practice: the floors are our own choice.

`cost` is what ranks: the share of the take's spread it explains, plus its share of the failures
(weighted down where under two strokes in a hundred fail), plus half its share of the unevenness of
power. Nothing is said of fewer than `ENOUGH` strokes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.measure.failing import failures
from trainer.measure.finding import ALPHA, found, gap, joined
from trainer.measure.lateness import lateness
from trainer.measure.suspects import suspects

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.measure.finding import Finding
    from trainer.measure.frame import Floats, Frame
    from trainer.measure.suspects import Suspect

ENOUGH = 100
"""Fewest main strokes that landed before anything is proposed."""

POWER_STEPS = 8.0
MOST = 3


def advise(frame: Frame, most: int = MOST) -> tuple[Finding, ...] | None:
    """Return what is worth practising, costliest first; None with too little to go on."""
    if np.count_nonzero(frame.played) < ENOUGH:
        return None
    tried = suspects(frame)
    by_name: dict[str, Finding] = {}
    for one in (*lateness(frame, tried), *failures(frame, tried), *_power(frame, tried)):
        before = by_name.get(one.name)
        by_name[one.name] = one if before is None else joined(before, one)
    ranked = sorted(by_name.values(), key=lambda one: (-one.cost, one.name))
    return tuple(ranked[:most])


def _power(frame: Frame, tried: Sequence[Suspect]) -> Iterator[Finding]:
    """Name the hand that plays softer than the other on the same voices and levels."""
    hands = [one for one in tried if one.kind == "hand"]
    if len(hands) != 2:
        return
    both = frame.played & (hands[0].strokes | hands[1].strokes)
    chosen = np.flatnonzero(both)
    level = frame.voice[chosen] * len(frame.names["level"]) + frame.level[chosen]
    velocity = frame.velocity[chosen]
    rest = velocity - _means(velocity, level)
    total = float(rest @ rest)
    inside = hands[0].strokes[chosen]
    louder, stands_out = gap(rest, inside, ALPHA)
    if total <= 0 or abs(louder) < POWER_STEPS or not stands_out:
        return
    softer = hands[0] if louder < 0 else hands[1]
    explained = louder * louder * inside.sum() * (~inside).sum() / len(rest)
    words = f"{abs(louder):.0f} velocity steps softer than the other hand on the same drums"
    yield found(softer, "soft", 0.5 * explained / total, words)


def _means(values: Floats, codes: Any) -> Floats:
    """The mean of each value's group."""
    _, back = np.unique(codes, return_inverse=True)
    sums: Floats = np.bincount(back, weights=values) / np.bincount(back)
    return sums[back]
