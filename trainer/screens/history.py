"""The history screen: ceilings over time, minutes a week, trends, and every session to go through.

Reading the folder and computing ceilings happen off the event loop.
"""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime
from typing import TYPE_CHECKING, Any, ClassVar

from textual import work
from textual.binding import Binding
from textual.containers import Container
from textual.screen import Screen

from trainer import settings
from trainer.actions.history import FolderSessions, HistoryRequest, goal_tempos, read_sessions
from trainer.actions.replay import ReplayRequest
from trainer.archive import ceilings
from trainer.archive.history import (
    PatternHistory,
    choose_sessions,
    fastest_clean,
    fastest_clean_by_week,
    minutes_by_day,
    player_names,
)
from trainer.console import printable
from trainer.errors import BadInput
from trainer.screens import common
from trainer.screens.common import call_on_screen, is_open
from trainer.screens.replay import open_replay
from trainer.screens.widgets.canvas import Lines
from trainer.screens.widgets.history import Curve, DrawnCurve, SessionList, Weeks
from trainer.show.history_words import short_ceiling_words
from trainer.show.number_words import count_text
from trainer.show.pictures import history_picture
from trainer.show.session_words import duration_words, recovered_words, trend_words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import date
    from pathlib import Path

    from textual.app import App, ComposeResult

    from trainer.archive.session_list import SessionEntry
    from trainer.show.ink import Line

REST_S = 0.08
"""How long the cursor rests on a session before its pattern's curve is computed."""

MOST_DOTS, MOST_WEEKS, WIDE = 400, 100, 110
TRENDS = 6

NOTHING_YET = "Nothing practised yet: at home, enter plays a pattern."


class HistoryScreen(Screen[None]):
    """Curve, weeks, trends and list."""

    GUIDE = (
        "Below are the sessions, the newest first; enter replays one. Above is the pattern under "
        "the cursor, rung by rung: ● clean, × not, ⊗ both in one place, ○ without a verdict. The "
        "line is the ceiling: every second rung is clean there. The dotted lines are its 90% "
        "interval. A dashed line across is a goal. Beside it are the minutes and days of each "
        "week. The last column is the week's fastest clean tempo of it. Trends compare the first "
        "sessions with the last ones."
    )
    BINDINGS: ClassVar = [
        Binding("enter", "replay", "Replay", tooltip="Replay the session under the cursor"),
        Binding("f", "pattern", "One pattern", tooltip="Only the pattern under the cursor, or all"),
        Binding("p", "player", "One player", tooltip="Only the player under the cursor, or all"),
        common.PICTURE_KEY,
        common.CLOSE_KEY,
        common.HELP_KEY,
    ]

    def __init__(
        self,
        request: HistoryRequest,
        *,
        look: Callable[[Path, Callable[[int], None]], FolderSessions] = read_sessions,
        now: Callable[[], datetime] = lambda: datetime.now().astimezone(),
    ) -> None:
        """Show the sessions of a request; `look` reads the folder and may take its time."""
        super().__init__()
        self.folder, self.now, self._look = request.folder, now, look
        self.pattern, self.player, self.start = request.pattern, request.player, request.start
        self.simulated = request.simulated
        self.entries: tuple[SessionEntry, ...] = ()
        self.reported = "reading the sessions …"
        self.aim: float | None = None
        self._trends: list[str] = []
        self._shown: tuple[str, str] | None = None

    def compose(self) -> ComposeResult:
        """Lay out heading, curve, weeks, trends, sessions and keys."""
        yield Lines(lambda _: [((self.reported, "strong"),)], id="past-heading")
        with Container(id="past"):
            yield Curve(id="curve")
            yield Weeks(id="weeks")
        yield Lines(self._trend_lines, id="trends")
        yield SessionList(id="sessions")
        yield common.KeyLine()

    def on_mount(self) -> None:
        """Put the cursor on the sessions."""
        self.list = self.query_one(SessionList)
        self.list.focus()
        self.call_after_refresh(self.read)

    @work(thread=True)
    def read(self) -> None:
        """Read the folder without holding the screen up."""

        def report(count: int) -> None:
            call_on_screen(self, self.say, f"reading the sessions … {count}")

        found = self._look(self.folder, report)
        with suppress(BadInput):  # faults of the settings are reported where they are used
            self.aim = settings.load().weekly_minutes
        call_on_screen(self, self._found, found)

    def _found(self, sessions: FolderSessions) -> None:
        """Show the sessions, and what should be known beside."""
        self.show(sessions.entries)
        for remark in (*map(recovered_words, sessions.recovered), *map(str, sessions.faults)):
            self.notify(printable(remark), severity="warning", markup=False)

    def say(self, reported: str) -> None:
        """Say something in the heading."""
        self.reported = reported
        self.query_one("#past-heading", Lines).redraw()

    def show(self, entries: Sequence[SessionEntry]) -> None:
        """Show the sessions that were found."""
        self.entries = tuple(entries)
        self._choose()

    def _choose(self) -> None:
        """List what the filters leave."""
        chosen = choose_sessions(
            self.entries,
            pattern=self.pattern,
            player=self.player,
            start=self.start,
            simulated=self.simulated,
        )
        self.list.today = self.now().date()
        self.list.show(chosen)
        seconds = sum(entry.seconds for entry in chosen)
        count = count_text(len(chosen), "session")
        only = [printable(one) for one in (self.pattern, self.player) if one]
        names = player_names(chosen)
        several = (
            f"; players: {printable(', '.join(names))} (p: one alone)" if len(names) > 1 else ""
        )
        alone = f"; only {' and '.join(only)}" if only else ""
        some = chosen or only or self.start
        words = f"{count}, {duration_words(seconds)}{alone}{several}"
        self.say(words if some else NOTHING_YET)
        today = self.now().date()
        self.query_one(Weeks).show(minutes_by_day(chosen), today, self.aim)
        self._shown = None
        self.on_session_chosen()

    def on_session_chosen(self) -> None:
        """Draw the curve of the pattern under the cursor once the cursor rests there."""
        entry = self.list.chosen
        subject = (entry.pattern, entry.player) if entry else None
        if subject != self._shown:
            self._shown = subject
            self.query_one(Curve).show(DrawnCurve("looking at its ladders …"))
            self.set_timer(REST_S, lambda: self._rested(subject))

    def _rested(self, subject: tuple[str, str] | None) -> None:
        if subject == self._shown and is_open(self):
            if subject is None:
                self.draw_past(DrawnCurve("Nothing to draw."), [])
            else:
                self.compute(*subject)

    @work(thread=True, exclusive=True)
    def compute(self, pattern: str, player: str) -> None:
        """Compute ceilings and trends of one player's pattern off the event loop."""
        own = tuple(
            entry
            for entry in choose_sessions(
                self.entries, player=player, start=self.start, simulated=self.simulated
            )
            if entry.pattern == pattern
        )
        drawn = curve_of(own, self.now(), goal_tempos(own))
        weeks = fastest_clean_by_week(own, self.now().date(), MOST_WEEKS)
        trends = [trend_words(one) for one in PatternHistory(pattern, "", own).trends()]
        clean = {monday: tempo for monday, tempo in weeks if tempo}
        call_on_screen(self, self.draw_past, drawn, trends, clean)

    def draw_past(
        self, drawn: DrawnCurve, trends: Sequence[str], clean: dict[date, float] | None = None
    ) -> None:
        """Show what was computed."""
        self.query_one(Weeks).show_clean(clean or {})
        self.query_one(Curve).show(drawn)
        self._trends = list(trends[:TRENDS])
        self.query_one("#trends", Lines).redraw()

    def _trend_lines(self, columns: int) -> Sequence[Line]:
        """Return the trends, two on a line where there is room."""
        across = 2 if columns >= WIDE else 1
        size = columns // across
        cells = [(one[: size - 1].ljust(size), "plain") for one in self._trends]
        return [tuple(cells[at : at + across]) for at in range(0, len(cells), across)]

    def action_pattern(self) -> None:
        """Show only the pattern under the cursor, or all again."""
        entry = self.list.chosen
        self.pattern = None if self.pattern or entry is None else entry.pattern
        self._choose()

    def action_player(self) -> None:
        """Show only the player under the cursor, or all again."""
        entry = self.list.chosen
        if self.player is None and entry is not None and not entry.player:
            self.notify("This session has no player's name.", markup=False)
            return
        self.player = None if self.player or entry is None else entry.player
        self._choose()

    def action_picture(self) -> None:
        """Save curves and weeks of what is listed as a picture in the folder of the sessions."""
        entries = tuple(reversed(self.list.entries))
        today = self.now().date()
        self.notify("Drawing …", timeout=2, markup=False)
        common.save_screen_picture(
            self, self.folder / "history.svg", lambda: history_picture(entries, today, goal_tempos)
        )

    def action_replay(self) -> None:
        """Replay the session under the cursor."""
        entry = self.list.chosen
        if entry:
            open_replay(self.app, ReplayRequest(entry.path.parent, str(entry.path)))


def curve_of(
    entries: Sequence[SessionEntry], now: datetime, goals: Sequence[tuple[str, float]] = ()
) -> DrawnCurve:
    """Return what the curve draws of one player's sessions of one pattern, the oldest first."""
    if not entries:
        return DrawnCurve("Nothing to draw.")
    last = entries[-1]
    who = ", ".join(printable(one) for one in (last.title, last.player) if one)
    climb = ceilings.climb_of(entries, last.player, last.pattern)
    found = climb.ceiling(now) if climb else None
    best = fastest_clean(entries)
    clean = f"fastest clean {best.clean_tempo:g}" if best else "nothing clean yet"
    heading = f"{clean}, {short_ceiling_words(found) if found else 'no ladder yet'}"
    step = max(1, len(entries) // MOST_DOTS)
    fastest = [(one.started, one.tempos[1]) for one in entries[::-step][::-1] if one.tempos]
    line = [
        (
            when,
            then.half.tempo,
            None if then.half.open_below else then.half.low,
            None if then.half.open_above else then.half.high,
        )
        for when, then in (climb.curve() if climb else [])
    ]
    rungs = [rung for one in entries[::-step][::-1] for rung in _rungs_of(one)]
    return DrawnCurve(heading, who, tuple(fastest), tuple(line), tuple(rungs), tuple(goals))


def _rungs_of(entry: SessionEntry) -> Iterator[tuple[datetime, float, bool | None]]:
    """Give the rungs of a session; without a ladder its fastest tempo, clean or not known."""
    if entry.rungs:
        yield from ((entry.started, tempo, clean) for tempo, clean in entry.rungs)
    elif entry.clean_tempo:
        yield entry.started, entry.clean_tempo, True
    elif entry.tempos:
        yield entry.started, entry.tempos[1], None


def open_history(app: App[Any], request: HistoryRequest) -> None:
    """Open the history above the screen that is shown."""
    app.push_screen(HistoryScreen(request))
