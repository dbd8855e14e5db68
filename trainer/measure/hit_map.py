"""The hit map: of every written note, how often it was due and what landed there; and of two takes.

Counts, early-late distribution and power of each note of the pattern, over any part of a take. An
offset is hit time minus target time in milliseconds, minus is early; only strokes that landed on
their pad have one here. Grace strokes count like others; a picture may leave them out.

Two takes: every figure is the first take's minus the second's, with its interval of 95% (see
`trainer.measure.figure.difference`): mean offset in ms (minus: the first is earlier), spread
in ms (minus: the first is tighter), faults in percent of the strokes due (missed or on a wrong pad;
minus: the first has fewer) and power in MIDI velocity (minus: the first is softer). A figure that
could not be measured in either take is left empty with the reason. Each cell is looked at alone: of
twenty in which nothing has changed, one will look changed by chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from trainer.measure import figure
from trainer.measure.take_arrays import take_arrays
from trainer.practice.outcomes import MISSED, PLAYED, TARGET_OUTCOMES, WRONG_PAD

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from trainer.measure.figure import Figure
    from trainer.practice.arrays import Bools, Floats, Ints
    from trainer.practice.outcomes import Judged


@dataclass(frozen=True, slots=True)
class LandedTargets:
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


def landed_targets(judged: Judged) -> LandedTargets:
    """Return what became of every target of a take, in the order of its targets."""
    arrays = take_arrays(judged)
    on_pad = arrays.outcome == TARGET_OUTCOMES.index(PLAYED)
    offset_s = np.where(np.isnan(arrays.offset_ms), 0.0, arrays.offset_ms / 1000.0)
    return LandedTargets(
        notes=len(judged.course.pattern.notes),
        note=arrays.note,
        row=arrays.row,
        when_s=arrays.time_s + offset_s,
        offset_ms=np.where(on_pad, arrays.offset_ms, np.nan),
        velocity=np.where(on_pad, arrays.velocity, np.nan),
        outcome=arrays.outcome,
    )


def part(take: LandedTargets, *, until_s: float, rows: Collection[int] | None = None) -> Bools:
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


def note_counts(take: LandedTargets, which: Bools, edges_ms: Sequence[float]) -> NoteCounts:
    """Count the chosen targets by note; offsets fall into bins between rising edges.

    There is one bin more than edges: the first takes everything below, the last everything above.
    An offset on an edge belongs to the bin nearer to 0.
    """
    note, outcome = take.note[which], take.outcome[which]
    offset, velocity = take.offset_ms[which], take.velocity[which]
    on_pad = outcome == TARGET_OUTCOMES.index(PLAYED)
    bins = len(edges_ms) + 1
    at = _offset_bins(offset[on_pad], np.asarray(edges_ms, dtype=np.float64))
    flat = np.bincount(note[on_pad] * bins + at, minlength=take.notes * bins)
    played = np.bincount(note[on_pad], minlength=take.notes)
    force = np.bincount(note[on_pad], weights=velocity[on_pad], minlength=take.notes)
    return NoteCounts(
        played=played,
        wrong_pad=_count_by_note(note, outcome, WRONG_PAD, take.notes),
        missed=_count_by_note(note, outcome, MISSED, take.notes),
        histogram=flat.reshape(take.notes, bins),
        power=np.divide(force, played, out=np.full(take.notes, np.nan), where=played > 0),
    )


def _offset_bins(offset_ms: Floats, edges_ms: Floats) -> Ints:
    below = np.searchsorted(edges_ms, offset_ms, side="right")
    above = np.searchsorted(edges_ms, offset_ms, side="left")
    chosen: Ints = np.where(offset_ms > 0, above, below)
    return chosen


def _count_by_note(note: Ints, outcome: Ints, word: str, notes: int) -> Ints:
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
    take: LandedTargets, which: Bools, notes: Sequence[int], edges_ms: Sequence[float]
) -> CellFigures:
    """Return the figures of some notes of the pattern taken together."""
    chosen = which & np.isin(take.note, notes)
    outcome = take.outcome[chosen]
    count = {word: int(np.sum(outcome == code)) for code, word in enumerate(TARGET_OUTCOMES)}
    on_pad = chosen & (take.outcome == TARGET_OUTCOMES.index(PLAYED))
    offset, velocity = take.offset_ms[on_pad], take.velocity[on_pad]
    edges = np.asarray(edges_ms, dtype=np.float64)
    bins = np.bincount(_offset_bins(offset, edges), minlength=len(edges_ms) + 1)
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


@dataclass(frozen=True, slots=True)
class CellChange:
    """What differs between two takes in some notes taken together, the first minus the second."""

    offset: Figure
    spread: Figure
    faults: Figure
    power: Figure


def cell_change(
    first: tuple[LandedTargets, Bools], second: tuple[LandedTargets, Bools], notes: Sequence[int]
) -> CellChange:
    """Return what differs in some notes between the chosen targets of two takes."""
    pairs = zip(_cell_means(*first, notes), _cell_means(*second, notes), strict=True)
    return CellChange(*(figure.difference(one, other) for one, other in pairs))


def _cell_means(take: LandedTargets, which: Bools, notes: Sequence[int]) -> tuple[Figure, ...]:
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
