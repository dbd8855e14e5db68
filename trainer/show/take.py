"""A judged take for looking through: its bars on the clock, its events, and counts of some passes.

The events are those a live screen would have got, each at its moment, with final outcomes only:
what the saved session says is what is shown. Counts are by written note and by cell of the grid.
Pure arithmetic; times are seconds on the session's clock, bins are in ms, minus is early. `row` is
a pass counted from 0 in this take.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.measure.hit_map import cell_figures, landed_targets, note_counts, part
from trainer.practice.course import beat_at, beat_time, pass_end
from trainer.practice.events import HitJudged, TargetMissed
from trainer.practice.outcomes import EXTRA, MISSED, WRONG_PAD, wrong_zone
from trainer.show.board import is_stray

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from trainer.measure.hit_map import CellFigures, LandedTargets
    from trainer.practice.arrays import Bools
    from trainer.practice.course import Course, Pass
    from trainer.practice.outcomes import Judged
    from trainer.show.board import Board
    from trainer.show.grid import Cell


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """One bar as it was played: from when to when, in which pass (row, from 0), which bar."""

    start_s: float
    end_s: float
    row: int
    bar: int


class Timeline:
    """Every bar of a course in the order it was played. A course without passes has none."""

    def __init__(self, course: Course) -> None:
        self.course = course
        self.bars = tuple(
            bar for row, one in enumerate(course.passes) for bar in self._bars(row, one)
        )
        self._starts = [bar.start_s for bar in self.bars]
        self.start_s = self.bars[0].start_s if self.bars else 0.0
        self.end_s = self.bars[-1].end_s if self.bars else 0.0

    def _bars(self, row: int, one: Pass) -> list[PlayedBar]:
        pattern, end = self.course.pattern, pass_end(self.course.pattern, one)
        spans = [
            (beat_time(pattern, one, bar.start), beat_time(pattern, one, bar.end))
            for bar in pattern.bars
        ]
        return [
            PlayedBar(start, min(stop, end), row, index)
            for index, (start, stop) in enumerate(spans)
            if start < end and not one.left_out(stop)
        ]

    def index_at(self, time_s: float) -> int:
        """Return which of the bars was last begun at a moment (the first one before all)."""
        return max(0, bisect_right(self._starts, time_s + 1e-9) - 1)

    def at(self, time_s: float) -> PlayedBar:
        """Return the bar that was last begun at a moment."""
        return self.bars[self.index_at(time_s)]

    def beat(self, time_s: float) -> float:
        """Return the place in the pattern at a moment, in quarter notes, inside its bar."""
        bar = self.at(time_s)
        one, pattern = self.course.passes[bar.row], self.course.pattern
        beat = beat_at(pattern, one, time_s)
        written = pattern.bars[bar.bar]
        return min(max(beat, float(written.start)), float(written.end) - 1e-6)

    def over_gap(self, time_s: float) -> float:
        """Return the moment, or the next bar's start where nothing was played in between."""
        index = self.index_at(time_s)
        if time_s >= self.bars[index].end_s and index + 1 < len(self.bars):
            return max(time_s, self.bars[index + 1].start_s)
        return time_s

    def step_bar(self, time_s: float, count: int) -> float:
        """Return the start of the bar `count` bars on; one back is first this bar's own start."""
        index = self.index_at(time_s)
        inside = time_s > self.bars[index].start_s + 0.25
        if count < 0 and inside:
            count += 1
        if index + count >= len(self.bars):
            return self.end_s
        return self.bars[max(0, index + count)].start_s

    def start_of(self, row: int) -> float:
        """Return when a pass begins; of one that was interrupted at once, when the next does."""
        return next((bar.start_s for bar in self.bars if bar.row >= row), self.end_s)


TimedEvent = tuple[float, HitJudged | TargetMissed]
"""A moment in seconds on the session's clock, and what was known from then on."""


def timed_events(judged: Judged) -> list[TimedEvent]:
    """Return every hit and every miss in the order of time. `pass_index` is the pass's row."""
    rows = {one.index: row for row, one in enumerate(judged.course.passes)}
    missed: list[TimedEvent] = [
        (target.time_s, TargetMissed(target.index, rows[target.pass_index], target.note_index))
        for target, outcome in zip(judged.targets, judged.target_outcome, strict=True)
        if outcome == MISSED
    ]
    hits: list[TimedEvent] = [
        (hit.time_s, _hit_event(judged, index, rows)) for index, hit in enumerate(judged.hits)
    ]
    return sorted([*missed, *hits], key=lambda timed: timed[0])


def _hit_event(judged: Judged, index: int, rows: dict[int, int]) -> HitJudged:
    hit, target = judged.hits[index], judged.hit_target[index]
    row, beat = place_of_moment(judged, hit.time_s)
    note = offset = None
    other = ""
    if target is not None:
        aim = judged.targets[target]
        row, note, offset = rows[aim.pass_index], aim.note_index, hit.time_s - aim.time_s
        beat = float(aim.note.beat)
        other = wrong_zone(aim.note, hit)
    return HitJudged(
        index,
        hit.time_s,
        hit.note,
        hit.velocity,
        hit.voice,
        hit.zone,
        judged.hit_outcome[index],
        target,
        offset,
        True,
        row,
        note,
        beat,
        other,
    )


def place_of_moment(judged: Judged, time_s: float) -> tuple[int, float]:
    """Return the pass (row) and the place in the pattern, in quarter notes, of a moment."""
    passes = judged.course.passes
    if not passes:
        return 0, 0.0
    row = max(0, bisect_right(passes, time_s, key=_pass_start) - 1)
    one, pattern = passes[row], judged.course.pattern
    beat = beat_at(pattern, one, time_s)
    return row, min(max(0.0, beat), float(pattern.length))


def _pass_start(one: Pass) -> float:
    return one.start_s


EDGES_MS = (-40.0, -25.0, -10.0, 0.0, 10.0, 25.0, 40.0)
"""Bins of the cells' small distributions; 10 and 25 ms are also the borders of the live signs."""

FINE_EDGES_MS = tuple(float(edge) for edge in range(-45, 50, 10))
"""Bins of the distribution of the cell under the cursor."""


class TakeEvents:
    """A judged take, gone through once: what landed, and every event in the order of time.

    `faults` are the missed strokes, wrong pads and strays among them.
    """

    def __init__(self, judged: Judged) -> None:
        self.judged = judged
        self.timeline = Timeline(judged.course)
        self.landed: LandedTargets = landed_targets(judged)
        events = timed_events(judged)
        self._beside = [one for one in events if is_stray(one[1])]
        self.faults = [one for one in events if _is_fault(one[1])]
        self._of_row: dict[int, list[TimedEvent]] = {}
        for one in events:
            self._of_row.setdefault(one[1].pass_index, []).append(one)
        self._of_note: dict[int, list[TimedEvent]] = {}

    def known(self, row: int, until_s: float) -> Iterator[TimedEvent]:
        """Yield everything that was known of one pass up to a moment."""
        return (one for one in self._of_row.get(row, ()) if one[0] <= until_s)

    def of_note(self, note_index: int, until_s: float) -> list[HitJudged | TargetMissed]:
        """Return what became of one written note up to a moment, an event for each pass."""
        if not self._of_note:
            for row in self._of_row.values():
                for one in row:
                    if one[1].note_index is not None:
                        self._of_note.setdefault(one[1].note_index, []).append(one)
        return [one for time_s, one in self._of_note.get(note_index, ()) if time_s <= until_s]

    def strays(self, rows: Collection[int] | None, until_s: float) -> Iterator[HitJudged]:
        """Yield the hits of some passes, or of all, that are not as written."""
        for moment, event in self._beside:
            if moment > until_s:
                break
            if isinstance(event, HitJudged) and (rows is None or event.pass_index in rows):
                yield event


def _is_fault(event: HitJudged | TargetMissed) -> bool:
    """Return whether the player did something else than what is written."""
    return isinstance(event, TargetMissed) or event.outcome in (WRONG_PAD, EXTRA)


class PassCounts:
    """Some passes of a take (`rows`, None for all) up to a moment, counted.

    `counts` is by note of the pattern, `strays` by cell: what else landed there, kind by kind.
    """

    def __init__(
        self, take: TakeEvents, board: Board, rows: Collection[int] | None, until_s: float
    ) -> None:
        self.landed = take.landed
        self.which: Bools = part(take.landed, until_s=until_s, rows=rows)
        self.counts = note_counts(take.landed, self.which, EDGES_MS)
        self.strays: dict[Cell, Counter[str]] = {}
        for event in take.strays(rows, until_s):
            if (cell := board.stray_cell(event)) is not None:
                self.strays.setdefault(cell, Counter())[event.outcome] += 1

    def due(self, notes: Sequence[int]) -> int:
        """Return how many strokes of some notes were due."""
        counts, indexes = self.counts, list(notes)
        return sum(
            int(of[indexes].sum()) for of in (counts.played, counts.missed, counts.wrong_pad)
        )

    def sides(self, notes: Sequence[int]) -> tuple[int, int, int]:
        """Return how many strokes were early, on time (within 10 ms) and late."""
        counts = self.counts.histogram[list(notes)].sum(axis=0)
        early, late = EDGES_MS.index(-10.0) + 1, EDGES_MS.index(10.0) + 1
        parts = (counts[:early], counts[early:late], counts[late:])
        return tuple(int(part.sum()) for part in parts)  # type: ignore[return-value]

    def figures(self, notes: Sequence[int]) -> CellFigures:
        """Return all about some notes taken together."""
        return cell_figures(self.landed, self.which, list(notes), FINE_EDGES_MS)
