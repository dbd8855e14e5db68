"""Between two rungs: clean or not, what failed first, what comes next, the time left, in large.

To be read in two seconds, from two metres, with the sticks in the hands.
"""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING

from trainer.report import plain
from trainer.screens import digits, rungs
from trainer.screens.ink import fit
from trainer.screens.progress import RESTING
from trainer.screens.widgets.canvas import Canvas
from trainer.screens.words import clock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.practice.events import RungEnded
    from trainer.screens.ink import Line
    from trainer.screens.progress import Progress

MARGIN = 2
GAP = 4
LARGEST = 5
COUNT_DOWN_S = 0.25
LONG_REST_S = 8.0
"""A rest longer than this counts down on the screen; a breath between rungs does not."""


class Between(Canvas):
    """Draws the verdict of the rung that just ended; blank before the first one."""

    def __init__(self, progress: Progress, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.progress = progress
        self._rest_began = 0.0

    @property
    def wanted(self) -> bool:
        """True in the quiet after a rung."""
        return self.progress.phase == RESTING and bool(self.progress.rungs)

    def on_mount(self) -> None:
        """Keep a clock for the count-down, which runs in a rest."""
        self._clock = self.set_interval(COUNT_DOWN_S, self._count_down, pause=True)

    def rest_began(self) -> None:
        """Note when the quiet began, to count it down."""
        self._rest_began = time.monotonic()
        self._clock.resume()

    def _count_down(self) -> None:
        if self.wanted:
            self.redraw()
        else:
            self._clock.pause()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the largest picture that fits."""
        if not self.progress.rungs:
            return ()
        for times in range(LARGEST, 0, -1):
            verdict_sizes = range(LARGEST, times - 1, -1)
            for lines in (self._at(columns, times, verdict) for verdict in verdict_sizes):
                if lines and len(lines) <= rows:
                    return lines
        return self._small(columns)

    def _at(self, columns: int, times: int, verdict: int) -> list[Line]:
        """Return the picture with verdict and next tempo in such sizes, the reason smaller.

        Nothing where a word would be cut, or the time would not stand beside the next tempo.
        """
        last, room = self.progress.rungs[-1], columns - 2 * MARGIN
        part = max(1, times // 2)
        if _across(_verdict(last), verdict) > room:
            return []
        if _across(self._next(last), times) + GAP + _across(self._time(), part) > room:
            return []
        ink = "centre" if last.clean else "missed"
        lines = [self._course(columns), ()]
        lines += _large([(row, ink) for row in digits.larger(_verdict(last), verdict)])
        lines.append(())
        if last.failed:
            reason = digits.wrapped(_short(last.failed[0]), room, part)
            lines += [*_large([(row, "strong") for row in reason]), ()]
        return lines + self._ahead(last, room, times)

    def _ahead(self, last: RungEnded, room: int, times: int) -> list[Line]:
        """Return the next tempo on the left and the time on the right, smaller where need be."""
        left = digits.larger(self._next(last), times)
        time_told = self._time()
        for part in range(times, 0, -1):
            right = digits.larger(time_told, part)
            if len(left[0]) + len(right[0]) + GAP <= room:
                break
        right = (" " * len(right[0]),) * (len(left) - len(right)) + right
        return [
            ((" " * MARGIN, "plain"), *fit(((one, "strong"),), room - len(other)), (other, "plain"))
            for one, other in zip(left, right, strict=True)
        ]

    def _small(self, columns: int) -> list[Line]:
        """Return the same in plain letters, for a window with no room."""
        last = self.progress.rungs[-1]
        ink = "centre" if last.clean else "missed"
        return [
            self._course(columns),
            ((f"  {_verdict(last)}", ink), (f"  {self._next(last)}  {self._time()}", "strong")),
            *(((f"  {plain(text)}", "strong"),) for text in last.failed),
        ]

    def _course(self, columns: int) -> Line:
        row = rungs.row(self.progress.rungs, columns - 2 * MARGIN, coming=False)
        return ((" " * MARGIN, "plain"), *row)

    def _next(self, last: RungEnded) -> str:
        tempo = self.progress.next_tempo or last.next_tempo
        return "the end" if last.next_tempo is None else f"next {tempo:g}"

    def _time(self) -> str:
        """Return the rest left where it is long, else the time to the bell."""
        rest = self.progress.rest
        length = rest.until_s - rest.time_s if rest else 0.0
        if self.wanted and length > LONG_REST_S:
            left = max(0, math.ceil(length - (time.monotonic() - self._rest_began)))
            return f"rest {clock(left)}"
        return rungs.minutes(self.progress.seconds_left)


def _across(text: str, times: int) -> int:
    return len(digits.larger(text, times)[0])


def _verdict(last: RungEnded) -> str:
    return "clean" if last.clean else "not clean"


def _short(reason: str) -> str:
    """Return a reason to be drawn in large; signs that have no large form say nothing there."""
    return plain(reason).replace(" of 127", "")


def _large(rows: list[tuple[str, str]]) -> list[Line]:
    return [((" " * MARGIN + text, ink),) for text, ink in rows]
