"""Moves: what it costs a hand to get from one drum to the next.

A move is two strokes of one hand, one after the other in a pass, written on different voices; a
stay is two on the same voice. Both are measured on their second stroke, the one that arrives. Only
strokes with a written (or inferred) hand count. Feet do not travel and are left out.

Offsets are in ms (minus is early) over the arrivals that landed on the right pad; errors are the
percentage of arrivals missed or on a wrong pad. `later`, `wider` and `errors_more` compare a move
with the same hand's stays: mean offset, spread and errors of the move minus those of the stays
(plus is later, wider, more). `later` is taken within blocks of some 24 strokes
(`trainer.measure.stroke_block`), where slow wander cancels out. They have no figure where the hand
hardly ever stays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from trainer.measure.figure import Figure, difference, mean, share, spread
from trainer.measure.stroke_block import difference_within, stroke_blocks
from trainer.measure.take_arrays import BOTH_HANDS, indexes_by_code
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Ints


@dataclass(frozen=True, slots=True)
class Arrivals:
    """Strokes of one hand that arrive in the same way: mean and spread in ms, errors in %."""

    mean: Figure
    spread: Figure
    errors: Figure


@dataclass(frozen=True, slots=True)
class Move:
    """One move: the hand, its two voices, its arrivals, and how they compare with staying."""

    limb: str
    start: str
    end: str
    mean: Figure
    spread: Figure
    errors: Figure
    later: Figure
    wider: Figure
    errors_more: Figure


@dataclass(frozen=True, slots=True)
class Moves:
    """Each hand's stays, and each move by name: "RH snare to floor"."""

    staying: dict[str, Arrivals]
    by_move: dict[str, Move]


def moves(take: TakeArrays) -> Moves:
    """Measure each hand's moves against its stays."""
    staying: dict[str, Arrivals] = {}
    by_move: dict[str, Move] = {}
    for hand in BOTH_HANDS:
        limb = take.name("limb", hand)
        stays, *moved = arrivals_of_hand(take, hand)
        if not len(stays.strokes) and not moved:
            continue
        staying[limb] = still = _arrival_figures(take, stays.strokes)
        for one in moved:
            name = f"{limb} {one.start} to {one.end}"
            by_move[name] = _move_figures(take, limb, one, still, stays.strokes)
    return Moves(staying, by_move)


class MoveStrokes(NamedTuple):
    """Strokes (places in the take) that arrive at a voice from another; both empty for stays."""

    start: str
    end: str
    strokes: Ints


def arrivals_of_hand(take: TakeArrays, hand: int) -> list[MoveStrokes]:
    """Return a hand's stays, then each of its moves, missed arrivals included."""
    strokes = np.flatnonzero(take.main & (take.limb == hand))
    before, after = strokes[:-1], strokes[1:]
    joined = take.row[before] == take.row[after]
    before, after = before[joined], after[joined]
    travelled = take.voice[before] != take.voice[after]
    voices = take.names["voice"]
    kind = take.voice[before] * len(voices) + take.voice[after]
    return [MoveStrokes("", "", after[~travelled])] + [
        MoveStrokes(voices[code // len(voices)], voices[code % len(voices)], after[those])
        for code, those in indexes_by_code(kind, travelled)
    ]


def _arrival_figures(take: TakeArrays, strokes: Ints) -> Arrivals:
    landed = strokes[take.played[strokes]]
    wrong = int(np.count_nonzero(take.outcome[strokes] != TARGET_OUTCOMES.index(PLAYED)))
    offset = take.offset_ms[landed]
    return Arrivals(mean(offset, "ms"), spread(offset, "ms"), share(wrong, len(strokes)))


def _later(take: TakeArrays, moves: Ints, stays: Ints) -> Figure:
    """How much later moves land than stays, block by block."""
    both = np.sort(np.concatenate([moves, stays]))
    both = both[take.played[both]]
    block = stroke_blocks(take)[both]
    return difference_within(take.offset_ms[both], np.isin(both, moves), block, "ms")


def _move_figures(
    take: TakeArrays, limb: str, moved: MoveStrokes, stays: Arrivals, still: Ints
) -> Move:
    found = _arrival_figures(take, moved.strokes)
    return Move(
        limb=limb,
        start=moved.start,
        end=moved.end,
        mean=found.mean,
        spread=found.spread,
        errors=found.errors,
        later=_later(take, moved.strokes, still),
        wider=difference(found.spread, stays.spread),
        errors_more=difference(found.errors, stays.errors),
    )
