"""The ceiling of one pattern over time, with its interval, and the fastest pass of each session."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.screens.braille import Dots
from trainer.screens.ink import fit
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime

    from trainer.screens.ink import Line

AXIS = 5
LEGEND = "── ceiling  ·· 90 % sure  ▪ fastest pass"

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawn:
    """What the curve shows. Tempos in BPM; an open end of an interval is None.

    `fastest` has a (moment, tempo) for each session, `ceiling` (moment, tempo, low, high).
    """

    heading: str
    fastest: tuple[tuple[datetime, float], ...] = ()
    ceiling: tuple[tuple[datetime, float, float | None, float | None], ...] = ()


class Curve(Canvas):
    """Draws a `Drawn`."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.drawn = Drawn("")

    def show(self, drawn: Drawn) -> None:
        """Draw something else."""
        self.drawn = drawn
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return heading, curve, and the axis of time."""
        heading: Line = ((self.drawn.heading, "strong"),)
        if not self.drawn.fastest or rows < 4 or columns < 2 * AXIS:
            return [heading]
        low, high = self._bounds()
        sheet = Dots(columns - AXIS, rows - 2)
        place = self._scale(sheet, low, high)
        self._draw(sheet, place, low, high)
        scale = _labels(low, high, rows - 2)
        body = [((label, "faint"), *line) for label, line in zip(scale, sheet.lines(), strict=True)]
        return [heading, *body, self._times(columns)]

    def _bounds(self) -> tuple[float, float]:
        """Return the tempos at the foot and the top: tens around all that is known."""
        known = [tempo for _, tempo in self.drawn.fastest]
        known += [tempo for _, tempo, _, _ in self.drawn.ceiling]
        return 10.0 * math.floor(min(known) / 10 - 0.2), 10.0 * math.ceil(max(known) / 10 + 0.2)

    def _scale(self, sheet: Dots, low: float, high: float) -> Callable[[datetime, float], Place]:
        first, last = self.drawn.fastest[0][0], self.drawn.fastest[-1][0]
        span = (last - first).total_seconds()

        def place(moment: datetime, tempo: float) -> Place:
            along = (moment - first).total_seconds() / span if span else 0.5
            up = (min(max(tempo, low), high) - low) / (high - low)
            return along * (sheet.width - 1), (1 - up) * (sheet.height - 1)

        return place

    def _draw(
        self, sheet: Dots, place: Callable[[datetime, float], Place], low: float, high: float
    ) -> None:
        """Draw the interval first and the passes last, since a character has one ink only."""
        ceiling = self.drawn.ceiling
        for foot_or_top in (
            [place(when, low if below is None else below) for when, _, below, _ in ceiling],
            [place(when, high if above is None else above) for when, _, _, above in ceiling],
        ):
            _dotted(sheet, foot_or_top)
        middle = [place(when, tempo) for when, tempo, _, _ in ceiling]
        for start, end in zip(middle, middle[1:] or middle, strict=False):
            sheet.line(start, end, "centre")
        for when, tempo in self.drawn.fastest:
            x, y = place(when, tempo)
            for right, down in ((0, 0), (1, 0), (0, 1), (1, 1)):
                sheet.set(x + right, y + down, "calling")

    def _times(self, columns: int) -> Line:
        first, last = (one.strftime("%Y-%m-%d") for one in self._ends())
        room = columns - AXIS - len(first) - len(last)
        middle = LEGEND if len(LEGEND) + 2 <= room else ""
        return fit(
            ((" " * AXIS + first, "faint"), (middle.center(room), "faint"), (last, "faint")),
            columns,
        )

    def _ends(self) -> tuple[datetime, datetime]:
        return self.drawn.fastest[0][0], self.drawn.fastest[-1][0]


def _dotted(sheet: Dots, places: Sequence[Place]) -> None:
    """Draw an edge of the interval as every third dot."""
    for (x, y), (to_x, to_y) in zip(places, places[1:] or places, strict=False):
        steps = max(1, round((to_x - x) / 3))
        for step in range(steps + 1):
            sheet.set(x + (to_x - x) * step / steps, y + (to_y - y) * step / steps, "faint")


def _labels(low: float, high: float, rows: int) -> list[str]:
    """Return the tempos beside the rows: top, foot, and one between where there is room."""
    labels = [" " * AXIS] * rows
    chosen = (0, rows // 2, rows - 1) if rows >= 5 else (0, rows - 1)
    for row in chosen:
        tempo = high - (high - low) * row / max(1, rows - 1)
        labels[row] = f"{tempo:.0f}".rjust(AXIS - 2) + "  "
    return labels
