"""The hit map: of every written note, how often it was due and what landed there.

Counts, early-late distribution and power of each note of the pattern, over any part of a take. An
offset is hit time minus target time in milliseconds, minus is early; only strokes that landed on
their pad have one here. Grace strokes are counted like others; whoever draws may leave them out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure.frame import frame
from trainer.practice.outcomes import MISSED, PLAYED, TARGET_OUTCOMES, WRONG_PAD

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from trainer.measure.frame import Bools, Floats, Ints
    from trainer.practice.outcomes import Judged


@dataclass(frozen=True, slots=True)
class Landed:
    """Of each target of a take: its `note`, its pass (`row`, from 0) and when it was known.

    `when_s` is the hit's time, or the target's where nothing landed. `offset_ms` and `velocity` are
    NaN unless the stroke was played on its pad. `outcome` is an index into TARGET_OUTCOMES.
    """

    notes: int
    note: Ints
    row: Ints
    when_s: Floats
    offset_ms: Floats
    velocity: Floats
    outcome: Ints


def landed(judged: Judged) -> Landed:
    """Return what became of every target of a take, in the order of its targets."""
    arrays = frame(judged)
    on_pad = arrays.outcome == TARGET_OUTCOMES.index(PLAYED)
    offset_s = np.where(np.isnan(arrays.offset_ms), 0.0, arrays.offset_ms / 1000.0)
    return Landed(
        notes=len(judged.course.pattern.notes),
        note=arrays.note,
        row=arrays.row,
        when_s=arrays.time_s + offset_s,
        offset_ms=np.where(on_pad, arrays.offset_ms, np.nan),
        velocity=np.where(on_pad, arrays.velocity, np.nan),
        outcome=arrays.outcome,
    )


def part(take: Landed, *, until_s: float, rows: Collection[int] | None = None) -> Bools:
    """Return True for each target known by a moment, of some passes only where they are named."""
    chosen: Bools = take.when_s <= until_s
    return chosen if rows is None else chosen & np.isin(take.row, list(rows))


@dataclass(frozen=True, slots=True)
class NoteCounts:
    """Counts by note of the pattern; `histogram` has a row a note and a column a bin.

    `power` is the mean velocity of the strokes played (1 to 127), NaN where none was.
    """

    played: Ints
    wrong_pad: Ints
    missed: Ints
    histogram: Ints
    power: Floats


def note_counts(take: Landed, which: Bools, edges_ms: Sequence[float]) -> NoteCounts:
    """Count the chosen targets by note; offsets fall into bins between rising edges.

    There is one bin more than edges: the first takes everything below, the last everything above.
    An offset on an edge belongs to the bin nearer to 0.
    """
    note, outcome = take.note[which], take.outcome[which]
    offset, velocity = take.offset_ms[which], take.velocity[which]
    on_pad = outcome == TARGET_OUTCOMES.index(PLAYED)
    bins = len(edges_ms) + 1
    at = _bins(offset[on_pad], np.asarray(edges_ms, dtype=np.float64))
    flat = np.bincount(note[on_pad] * bins + at, minlength=take.notes * bins)
    played = np.bincount(note[on_pad], minlength=take.notes)
    force = np.bincount(note[on_pad], weights=velocity[on_pad], minlength=take.notes)
    return NoteCounts(
        played=played,
        wrong_pad=_count(note, outcome, WRONG_PAD, take.notes),
        missed=_count(note, outcome, MISSED, take.notes),
        histogram=flat.reshape(take.notes, bins),
        power=np.divide(force, played, out=np.full(take.notes, np.nan), where=played > 0),
    )


def _bins(offset_ms: Floats, edges_ms: Floats) -> Ints:
    below = np.searchsorted(edges_ms, offset_ms, side="right")
    above = np.searchsorted(edges_ms, offset_ms, side="left")
    chosen: Ints = np.where(offset_ms > 0, above, below)
    return chosen


def _count(note: Ints, outcome: Ints, word: str, notes: int) -> Ints:
    return np.bincount(note[outcome == TARGET_OUTCOMES.index(word)], minlength=notes)


@dataclass(frozen=True, slots=True)
class CellFigures:
    """All about some notes together. Times in ms, power in MIDI velocity; None where unknown.

    `offset_spread_ms` and `power_spread` are sample standard deviations, from two strokes on.
    """

    due: int
    played: int
    wrong_pad: int
    missed: int
    offset_mean_ms: float | None
    offset_spread_ms: float | None
    earliest_ms: float | None
    latest_ms: float | None
    power_mean: float | None
    power_spread: float | None
    histogram: tuple[int, ...]


def cell_figures(
    take: Landed, which: Bools, notes: Sequence[int], edges_ms: Sequence[float]
) -> CellFigures:
    """Return the figures of some notes of the pattern taken together."""
    chosen = which & np.isin(take.note, notes)
    outcome = take.outcome[chosen]
    count = {word: int(np.sum(outcome == code)) for code, word in enumerate(TARGET_OUTCOMES)}
    on_pad = chosen & (take.outcome == TARGET_OUTCOMES.index(PLAYED))
    offset, velocity = take.offset_ms[on_pad], take.velocity[on_pad]
    edges = np.asarray(edges_ms, dtype=np.float64)
    bins = np.bincount(_bins(offset, edges), minlength=len(edges_ms) + 1)
    some, several = len(offset) > 0, len(offset) > 1
    return CellFigures(
        due=int(np.sum(chosen)),
        played=count[PLAYED],
        wrong_pad=count[WRONG_PAD],
        missed=count[MISSED],
        offset_mean_ms=float(np.mean(offset)) if some else None,
        offset_spread_ms=float(np.std(offset, ddof=1)) if several else None,
        earliest_ms=float(np.min(offset)) if some else None,
        latest_ms=float(np.max(offset)) if some else None,
        power_mean=float(np.mean(velocity)) if some else None,
        power_spread=float(np.std(velocity, ddof=1)) if several else None,
        histogram=tuple(bins.tolist()),
    )
