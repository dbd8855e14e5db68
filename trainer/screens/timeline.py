"""A course on the clock, bar by bar: where a moment stands, and the way to other bars and passes.

Pure layout arithmetic over the course; times are seconds on the session's clock.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.practice.course import beat_time, pass_end, seconds_per_quarter

if TYPE_CHECKING:
    from trainer.practice.course import Course, Pass


@dataclass(frozen=True, slots=True)
class BarAt:
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

    def _bars(self, row: int, one: Pass) -> list[BarAt]:
        pattern, end = self.course.pattern, pass_end(self.course.pattern, one)
        spans = [
            (beat_time(pattern, one, bar.start), beat_time(pattern, one, bar.end))
            for bar in pattern.bars
        ]
        return [
            BarAt(start, min(stop, end), row, index)
            for index, (start, stop) in enumerate(spans)
            if start < end
        ]

    def index_at(self, time_s: float) -> int:
        """Return which of the bars was last begun at a moment (the first one before all)."""
        return max(0, bisect_right(self._starts, time_s + 1e-9) - 1)

    def at(self, time_s: float) -> BarAt:
        """Return the bar that was last begun at a moment."""
        return self.bars[self.index_at(time_s)]

    def beat(self, time_s: float) -> float:
        """Return the place in the pattern at a moment, in quarter notes, inside its bar."""
        bar = self.at(time_s)
        one, pattern = self.course.passes[bar.row], self.course.pattern
        beat = (time_s - one.start_s) / seconds_per_quarter(pattern, one.tempo)
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
        """Return when a pass begins; of one that was broken off at once, when the next does."""
        return next((bar.start_s for bar in self.bars if bar.row >= row), self.end_s)
