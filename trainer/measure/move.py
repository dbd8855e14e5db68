"""Moves: what it costs a hand to get from one drum to the next.

A move is two strokes of one hand, one after the other in a pass, written on different voices; a
stay is two on the same voice. Both are measured on their second stroke, the one that arrives. Only
strokes with a written (or inferred) hand count. Feet do not travel and are left out.

Offsets are in ms (minus is early) over the arrivals that landed on the right pad; errors are the
percentage of arrivals missed or on a wrong pad. `later`, `wider` and `errors_more` compare a move
with the same hand's stays: mean offset, spread and errors of the move minus those of the stays
(plus is later, wider, more). They have no figure where the hand hardly ever stays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.figure import Figure, difference, mean, share, spread
from trainer.measure.take_arrays import LIMB_NAMES, indexes_by_code
from trainer.practice.outcomes import PLAYED, TARGET_OUTCOMES

if TYPE_CHECKING:
    from trainer.measure.take_arrays import TakeArrays
    from trainer.practice.arrays import Ints

HAND_CODES = (LIMB_NAMES.index("RH"), LIMB_NAMES.index("LH"))


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


def moves(frame: TakeArrays) -> Moves:
    """Measure each hand's moves against its stays."""
    staying: dict[str, Arrivals] = {}
    by_move: dict[str, Move] = {}
    for hand in HAND_CODES:
        before, after = _hand_steps(frame, hand)
        if not len(after):
            continue
        limb = frame.name("limb", hand)
        travelled = frame.voice[before] != frame.voice[after]
        stays = _arrival_figures(frame, after[~travelled])
        staying[limb] = stays
        kind = frame.voice[before] * len(frame.names["voice"]) + frame.voice[after]
        for code, those in indexes_by_code(kind, travelled):
            start, end = divmod(code, len(frame.names["voice"]))
            move = _move_figures(frame, limb, start, end, after[those], stays)
            by_move[f"{limb} {move.start} to {move.end}"] = move
    return Moves(staying, by_move)


def _hand_steps(frame: TakeArrays, hand: int) -> tuple[Ints, Ints]:
    """The strokes of a hand before and after each step of its path, pass by pass."""
    strokes = np.flatnonzero(frame.main & (frame.limb == hand))
    together = frame.row[strokes[:-1]] == frame.row[strokes[1:]]
    return strokes[:-1][together], strokes[1:][together]


def _arrival_figures(frame: TakeArrays, strokes: Ints) -> Arrivals:
    landed = strokes[frame.played[strokes]]
    wrong = int(np.count_nonzero(frame.outcome[strokes] != TARGET_OUTCOMES.index(PLAYED)))
    offset = frame.offset_ms[landed]
    return Arrivals(mean(offset, "ms"), spread(offset, "ms"), share(wrong, len(strokes)))


def _move_figures(
    frame: TakeArrays, limb: str, start: int, end: int, arrivals: Ints, stays: Arrivals
) -> Move:
    found = _arrival_figures(frame, arrivals)
    return Move(
        limb=limb,
        start=frame.name("voice", start),
        end=frame.name("voice", end),
        mean=found.mean,
        spread=found.spread,
        errors=found.errors,
        later=difference(found.mean, stays.mean),
        wider=difference(found.spread, stays.spread),
        errors_more=difference(found.errors, stays.errors),
    )
