"""Where the beat stands on the grid between two beats: each step of the beat at its moment.

Keeps no clock: whoever shows it says what time it is.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.pattern.model import Bar
    from trainer.screens.grid import BarColumns


class Cursor:
    """The steps of the beat that began last. Times are seconds on the screen's clock.

    It never runs into the next beat before that is announced, however late the announcement.
    """

    def __init__(self) -> None:
        self._columns: tuple[int, ...] = ()
        self._moments: list[float] = []

    def begin(self, columns: BarColumns, bar: Bar, beat: int, now: float, quarter_s: float) -> None:
        """Begin a beat of a bar (from 0) that moves at `quarter_s` seconds a quarter note."""
        start = bar.start + bar.meter.beat * beat
        inside = [
            (column, float(step - start))
            for column, step in enumerate(columns.beats)
            if start <= step < start + bar.meter.beat
        ]
        self._columns = tuple(column for column, _ in inside)
        self._moments = [now + after * quarter_s for _, after in inside]

    def stand(self) -> None:
        """Stay on the first step of the beat: a count-in counts, it does not play."""
        del self._moments[1:]

    def column(self, now: float) -> int | None:
        """Return the column the beat stands on, None before the first beat."""
        index = bisect_right(self._moments, now) - 1
        return self._columns[max(0, index)] if self._columns else None

    def next_s(self, now: float) -> float | None:
        """Return the seconds until the next step of this beat, None when there is none."""
        index = bisect_right(self._moments, now)
        return self._moments[index] - now if index < len(self._moments) else None
