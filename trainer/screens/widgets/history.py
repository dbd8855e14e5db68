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

from trainer.archive.history import monday_of, practised_weeks
from trainer.console import printable
from trainer.screens.common import SessionChosen
from trainer.screens.widgets.canvas import Canvas
from trainer.show.drawing import BrailleSheet
from trainer.show.ink import fit_line, padded, shortened, text_width
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

FEWEST_WEEKS = 4
"""Weeks that are shown even to who began this week."""


class Weeks(Canvas):
    """Draws minutes a week as bars, with the days played; the present week at the top."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.minutes: dict[date, float] = {}
        self.clean: dict[date, float] = {}
        self.aim: float | None = None
        self.last = date.min

    def show(self, minutes: dict[date, float], last: date, aim: float | None = None) -> None:
        """Draw the weeks up to a last day, against the minutes aimed at in each."""
        self.minutes, self.last, self.aim = minutes, last, aim
        self.redraw()

    def show_clean(self, clean: dict[date, float]) -> None:
        """Show the fastest clean tempo of one pattern in each week, by its Monday."""
        self.clean = clean
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return a heading and a row for each week that fits."""
        if self.last.year < 1000 or rows < 2:
            return ()
        count = min(rows - 1, max(FEWEST_WEEKS, self._weeks_so_far))
        weeks = practised_weeks(self.minutes, self.last, count)[::-1]
        total = f"{sum(week.minutes for week in weeks):.0f} min in {count_text(count, 'week')}"
        aim = f", aim {self.aim:g} a week" if self.aim else ""
        ends = self._ends(weeks)
        room = max(1, columns - WEEK_LABEL - max(map(len, ends)) - 1)
        most = max([self.aim or 0.0, *(week.minutes for week in weeks)]) or 1.0
        clean = "clean BPM" if self.clean else ""
        head = total + aim if len(total + aim) + len(clean) < columns else total
        return [
            ((head.ljust(columns - len(clean)) + clean, "strong"),),
            *(
                (
                    (f"{week.monday.day:>2} {week.monday:%b} ", "faint"),
                    (minute_bar(week.minutes / most, room).ljust(room), "strong"),
                    (f" {end}", "plain"),
                )
                for week, end in zip(weeks, ends, strict=True)
            ),
        ]

    @property
    def _weeks_so_far(self) -> int:
        """The weeks since the first one with practice."""
        first = monday_of(min(self.minutes, default=self.last))
        return 1 + (monday_of(self.last) - first).days // 7

    def _ends(self, weeks: Sequence[PractisedWeek]) -> list[str]:
        """Return what is said of each week: minutes, days, and the fastest clean tempo."""
        words = [week_words(week) for week in weeks]
        size = max(map(len, words))
        found = [self.clean.get(week.monday) for week in weeks]
        tempos = [f"{tempo:g}" if tempo else "" for tempo in found]
        wide = max(map(len, tempos)) + 1
        return [
            f"{word:<{size}}{tempo:>{wide}}".rstrip() if wide > 1 else word
            for word, tempo in zip(words, tempos, strict=True)
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
LEGENDS = (
    "● clean  × not clean  ── ceiling  ·· 90% interval  ╌ goal",
    "● clean  × not  ── ceiling",
    "● clean × not",
)
CLEAN, NOT_CLEAN, BOTH, UNKNOWN = "●", "×", "⊗", "○"
"""Signs of rungs and sessions: clean, not clean, both in one place, and not known."""

INKS_OF = {CLEAN: "centre", NOT_CLEAN: "missed", BOTH: "strong", UNKNOWN: "plain"}
HIGHEST_GOAL = 1.25
"""Goals above this share of the fastest tempo are shown at the top edge, with an arrow."""

CurvePoint = tuple[float, float]


@dataclass(frozen=True, slots=True)
class DrawnCurve:
    """What the curve shows. Tempos in BPM; an open end of an interval is None.

    `fastest` has a (moment, tempo) for each session, `ceiling` (moment, tempo, low, high), `rungs`
    (moment, tempo, clean; None: not known), `goals` the name and the tempo of each.
    """

    heading: str
    title: str = ""
    fastest: tuple[tuple[datetime, float], ...] = ()
    ceiling: tuple[tuple[datetime, float, float | None, float | None], ...] = ()
    rungs: tuple[tuple[datetime, float, bool | None], ...] = ()
    goals: tuple[tuple[str, float], ...] = ()


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
        drawn = self.drawn
        figures = drawn.heading
        if len(figures) > columns:
            figures = figures.replace(", 90% interval", "").replace("fastest clean", "clean")
        heading: list[Line] = [
            ((shortened(one, columns), "strong"),) for one in (drawn.title, figures) if one
        ]
        if not drawn.fastest or rows < 5 or columns < 2 * AXIS:
            return heading
        low, high = self._bounds()
        sheet = BrailleSheet(columns - AXIS, rows - 1 - len(heading))
        place = self._scale(sheet, low, high)
        self._draw(sheet, place, low, high)
        scale = _labels(low, high, sheet.rows)
        body = [((label, "faint"), *line) for label, line in zip(scale, sheet.lines(), strict=True)]
        return [*heading, *body, self._times(columns)]

    def _bounds(self) -> tuple[float, float]:
        """Return the tempos at the foot and the top: tens around all that is known."""
        known = [tempo for _, tempo in self.drawn.fastest]
        known += [tempo for _, tempo, _, _ in self.drawn.ceiling]
        known += [tempo for _, tempo, _ in self.drawn.rungs]
        most = HIGHEST_GOAL * max(known)
        known += [tempo for _, tempo in self.drawn.goals if min(known) / 2 < tempo <= most]
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
        """Draw the interval first and the rungs last: they take the place of what is below."""
        ceiling = self.drawn.ceiling
        for foot_or_top in (
            [place(when, low if below is None else below) for when, _, below, _ in ceiling],
            [place(when, high if above is None else above) for when, _, _, above in ceiling],
        ):
            _dotted(sheet, foot_or_top)
        middle = [place(when, tempo) for when, tempo, _, _ in ceiling]
        for start, end in zip(middle, middle[1:] or middle, strict=False):
            sheet.line(start, end, "centre")
        self._draw_goals(sheet, place, high)
        for when, tempo, clean in self.drawn.rungs:
            cell = sheet.cell(*place(when, tempo))
            sign = UNKNOWN if clean is None else CLEAN if clean else NOT_CLEAN
            before = sheet.sign_at(*cell)
            if sign != before and {sign, before} <= {CLEAN, NOT_CLEAN, BOTH}:
                sign = BOTH
            sheet.put(*cell, sign, INKS_OF[sign])

    def _draw_goals(
        self, sheet: BrailleSheet, place: Callable[[datetime, float], CurvePoint], high: float
    ) -> None:
        """Draw a line across for each goal, its name and tempo at the right end."""
        for name, tempo in self.drawn.goals:
            row, _ = sheet.cell(*place(self.drawn.fastest[0][0], tempo))
            arrow = "↑ " if tempo > high else ""
            label = f" {arrow}{shortened(printable(name), sheet.columns // 2)} {tempo:.0f}"
            dashes = sheet.columns - text_width(label)
            for column in range(dashes):
                sheet.put(row, column, "╌", "calling")
            sheet.write(row, dashes, label, "calling")

    def _times(self, columns: int) -> Line:
        start, end = self._ends()
        first, last = day_words(start, end), day_words(end, end)
        room = columns - AXIS - len(first) - len(last)
        middle = next((one for one in LEGENDS if len(one) + 2 <= room), "")
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
        self.today: date | None = None
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
                    padded(shortened(_session_row(entry, self.today), columns), columns),
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


def _session_row(entry: SessionEntry, today: date | None) -> str:
    """Return a session's row: when, tempos, the fastest that was clean, how long, what, who."""
    low, high = entry.tempos or (0.0, 0.0)
    tempos = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    clean = f"clean {entry.clean_tempo:g}" if entry.clean_tempo else "not clean" * bool(entry.rungs)
    by = f", {printable(entry.player)}" if entry.player else ""
    when = f"{date_words(entry.started.astimezone(), today):>13}"
    played = f"{tempos:>10} BPM {clean:>10} {_length_text(entry.seconds):>7}"
    if empty := empty_session_words(entry):
        played = f"{empty:>{len(played)}}"
    return f"{when} {played}  {printable(entry.title)}{by}"


def _length_text(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
