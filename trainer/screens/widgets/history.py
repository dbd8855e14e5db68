"""The widgets of the history: minutes a week, curve of a ceiling, list of sessions.

Weeks are bars, the present one at the top, each with its minutes and days. The curve is the ceiling
of one pattern over time with its interval, and the fastest pass of each session. The list has the
newest session first, and draws only the rows in sight.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding

from trainer.archive.history import practised_weeks
from trainer.console import printable
from trainer.screens.common import SessionChosen
from trainer.screens.widgets.canvas import Canvas
from trainer.show.drawing import BrailleSheet
from trainer.show.ink import fit_line
from trainer.show.number_words import count_text
from trainer.show.session_words import date_words, day_words, empty_session_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime

    from textual.events import Click, MouseScrollDown, MouseScrollUp

    from trainer.archive.history import PractisedWeek
    from trainer.archive.session_list import SessionEntry
    from trainer.show.ink import Line


EIGHTHS = " ▏▎▍▌▋▊▉█"
"""Bars end in eighths of a character."""

WEEK_LABEL = len("30 Nov ")


class Weeks(Canvas):
    """Draws minutes a week as bars, with the days played; the present week at the top."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.minutes: dict[date, float] = {}
        self.last = date.min

    def show(self, minutes: dict[date, float], last: date) -> None:
        """Draw the weeks up to a last day."""
        self.minutes, self.last = minutes, last
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return a heading and a row for each week that fits."""
        if self.last.year < 1000 or rows < 2:
            return ()
        weeks = practised_weeks(self.minutes, self.last, rows - 1)[::-1]
        total = (
            f"{sum(week.minutes for week in weeks):.0f} minutes in {count_text(rows - 1, 'week')}"
        )
        ends = [week_words(week) for week in weeks]
        room = max(1, columns - WEEK_LABEL - max(map(len, ends)) - 1)
        most = max(week.minutes for week in weeks) or 1.0
        return [
            ((total, "strong"),),
            *(
                (
                    (f"{week.monday.day:>2} {week.monday:%b} ", "faint"),
                    (minute_bar(week.minutes / most, room).ljust(room), "strong"),
                    (f" {end}", "plain"),
                )
                for week, end in zip(weeks, ends, strict=True)
            ),
        ]


def minute_bar(share: float, columns: int) -> str:
    """Return a bar that fills a share (0 to 1) of some columns; anything above 0 is seen."""
    eighths = max(round(8 * columns * share), int(share > 0))
    full, rest = divmod(eighths, 8)
    return "█" * full + EIGHTHS[rest].strip()


def week_words(week: PractisedWeek) -> str:
    """Return what was played in a week: "84 min, 3 days"."""
    if not week.days:
        return "no practice"
    return f"{week.minutes:.0f} min, {count_text(week.days, 'day')}"


AXIS = 5
LEGEND = "── ceiling  ·· 90% interval  ▪ fastest pass"

CurvePoint = tuple[float, float]


@dataclass(frozen=True, slots=True)
class DrawnCurve:
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
        self.drawn = DrawnCurve("")

    def show(self, drawn: DrawnCurve) -> None:
        """Draw something else."""
        self.drawn = drawn
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return heading, curve, and the axis of time."""
        heading: Line = ((self.drawn.heading, "strong"),)
        if not self.drawn.fastest or rows < 4 or columns < 2 * AXIS:
            return [heading]
        low, high = self._bounds()
        sheet = BrailleSheet(columns - AXIS, rows - 2)
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

    def _scale(
        self, sheet: BrailleSheet, low: float, high: float
    ) -> Callable[[datetime, float], CurvePoint]:
        first, last = self.drawn.fastest[0][0], self.drawn.fastest[-1][0]
        span = (last - first).total_seconds()

        def place(moment: datetime, tempo: float) -> CurvePoint:
            along = (moment - first).total_seconds() / span if span else 0.5
            up = (min(max(tempo, low), high) - low) / (high - low)
            return along * (sheet.width - 1), (1 - up) * (sheet.height - 1)

        return place

    def _draw(
        self,
        sheet: BrailleSheet,
        place: Callable[[datetime, float], CurvePoint],
        low: float,
        high: float,
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
        first, last = (day_words(one) for one in self._ends())
        room = columns - AXIS - len(first) - len(last)
        middle = LEGEND if len(LEGEND) + 2 <= room else ""
        return fit_line(
            ((" " * AXIS + first, "faint"), (middle.center(room), "faint"), (last, "faint")),
            columns,
        )

    def _ends(self) -> tuple[datetime, datetime]:
        return self.drawn.fastest[0][0], self.drawn.fastest[-1][0]


def _dotted(sheet: BrailleSheet, places: Sequence[CurvePoint]) -> None:
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


class SessionList(Canvas, can_focus=True):
    """Sessions and the cursor among them; posts `SessionChosen` when the cursor moved."""

    BINDINGS: ClassVar = [
        Binding("up", "go(-1)", "Session up", show=False),
        Binding("down", "go(1)", "Session down", show=False),
        Binding("pageup", "page(-1)", "Page up", show=False),
        Binding("pagedown", "page(1)", "Page down", show=False),
        Binding("home", "go(-1000000)", "The newest", show=False),
        Binding("end", "go(1000000)", "The oldest", show=False),
    ]

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.entries: tuple[SessionEntry, ...] = ()
        self.at = 0
        self._top = 0

    @property
    def chosen(self) -> SessionEntry | None:
        """The session under the cursor."""
        return self.entries[self.at] if self.entries else None

    def show(self, entries: Sequence[SessionEntry]) -> None:
        """List some sessions (given the oldest first); the cursor stays on its session."""
        before = self.chosen
        self.entries = tuple(reversed(entries))
        self.at = self.entries.index(before) if before in self.entries else 0
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the rows in sight, with the cursor's among them."""
        if not self.entries:
            return [(("No session here.", "faint"),)]
        self._top = min(max(self._top, self.at - rows + 1), self.at)
        shown = self.entries[self._top : self._top + rows]
        return [
            (
                (
                    _session_row(entry).ljust(columns)[:columns],
                    "chosen" if self._top + y == self.at else "plain",
                ),
            )
            for y, entry in enumerate(shown)
        ]

    def action_go(self, count: int) -> None:
        """Move the cursor."""
        self._to(self.at + count)

    def action_page(self, count: int) -> None:
        """Move the cursor by a page."""
        self._to(self.at + count * max(1, self.size.height - 1))

    def on_click(self, event: Click) -> None:
        """Put the cursor on the session that was clicked."""
        self._to(self._top + event.y)

    def on_mouse_scroll_down(self, _event: MouseScrollDown) -> None:
        """Move with the wheel."""
        self._to(self.at + 1)

    def on_mouse_scroll_up(self, _event: MouseScrollUp) -> None:
        """Move with the wheel."""
        self._to(self.at - 1)

    def _to(self, at: int) -> None:
        self.at = min(max(0, at), max(0, len(self.entries) - 1))
        self.redraw()
        self.post_message(SessionChosen())


def _session_row(entry: SessionEntry) -> str:
    low, high = entry.tempos or (0.0, 0.0)
    tempos = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    rungs = count_text(len(entry.rungs), "rung") if entry.rungs else ""
    by = f", {printable(entry.player)}" if entry.player else ""
    when = f"{date_words(entry.started.astimezone()):>18}"
    played = f"{tempos:>10} BPM {_length_text(entry.seconds):>7} {rungs:>8}"
    if empty := empty_session_words(entry):
        played = f"{empty:>{len(played)}}"
    return f"{when} {played}  {printable(entry.title)}{by}"


def _length_text(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
