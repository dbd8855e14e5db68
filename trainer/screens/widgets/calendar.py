"""A calendar of minutes practised: weeks across, Monday on top, more ink for more minutes."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from trainer.archive.days import weeks
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.ink import Line

NAMES = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")
STEPS = ((0.0, "·"), (1.0, "░"), (15.0, "▒"), (30.0, "▓"), (60.0, "█"))
"""Fewest minutes of each sign."""

LABEL, WIDE = 3, 2


class Calendar(Canvas):
    """Draws as many weeks as fit, the present one on the right."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.minutes: dict[date, float] = {}
        self.last = date.min

    def show(self, minutes: dict[date, float], last: date) -> None:
        """Draw the minutes of each day up to a last one."""
        self.minutes, self.last = minutes, last
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return a heading, a row for each day of the week, and what the signs mean."""
        count = max(1, (columns - LABEL) // WIDE)
        if self.last.year < 1000:
            return ()
        shown = weeks(self.minutes, self.last, count)
        total = sum(minutes or 0.0 for _, week in shown for minutes in week)
        days = [
            ((f"{name} ", "faint"), *((sign(week[row]) * WIDE, "strong") for _, week in shown))
            for row, name in enumerate(NAMES)
        ]
        key = "░ 1 ▒ 15 ▓ 30 █ 60 min"
        return [
            ((f"{total:.0f} minutes in {count} weeks", "strong"),),
            _months([first for first, _ in shown]),
            *days,
            ((" " * LABEL + key, "faint"),),
        ]


def sign(minutes: float | None) -> str:
    """Return the sign of a day: blank when it is still to come."""
    if minutes is None:
        return " "
    return next(shape for least, shape in reversed(STEPS) if minutes >= least)


def _months(mondays: Sequence[date]) -> Line:
    """Return the months' names over the weeks in which they begin, where they fit whole."""
    width = LABEL + WIDE * len(mondays)
    text, free = [" "] * width, 0
    for place, first in enumerate(mondays):
        at = LABEL + WIDE * place
        if first.day <= 7 and free <= at <= width - 3:
            text[at : at + 3] = first.strftime("%b")
            free = at + 4
    return (("".join(text), "faint"),)
