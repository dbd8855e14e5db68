"""The history screen: ceilings over time, minutes a week, trends, and every session to go through.

Reading the folder and computing ceilings happen off the event loop. The app returns the session
that was chosen to be replayed, None when the player leaves.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.binding import Binding
from textual.containers import Container
from textual.screen import Screen
from textual.widgets import Footer

from trainer.archive import ceilings
from trainer.archive.history import PatternHistory, choose_sessions, minutes_by_day, player_names
from trainer.console import printable
from trainer.screens import common
from trainer.screens.common import call_on_screen, is_open
from trainer.screens.trainer_app import TrainerApp
from trainer.screens.widgets.canvas import Lines
from trainer.screens.widgets.history import Curve, DrawnCurve, SessionList, Weeks
from trainer.show import history_picture
from trainer.show.number_words import count_text
from trainer.show.session_words import duration_words, trend_words

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.app import ComposeResult

    from trainer.archive.session_list import SessionEntry
    from trainer.show.ink import Line

REST_S = 0.08
"""How long the cursor rests on a session before its pattern's curve is computed."""

MOST_DOTS, WIDE = 400, 110
TRENDS = 6


class HistoryScreen(Screen[None]):
    """Curve, weeks, trends and list."""

    GUIDE = (
        "Below are the sessions, the newest first; enter replays the one under the cursor. Above "
        "is its pattern over time. The line is the ceiling, the tempo at which half the rungs of a "
        "ladder are clean; the dotted lines are its 90% interval; blocks are the fastest pass of "
        "each session. Trends compare the first sessions with the last. On the right are the "
        "minutes of each week, and on how many days you played."
    )
    BINDINGS: ClassVar = [
        Binding("enter", "replay", "Replay", tooltip="Replay the session under the cursor"),
        Binding("f", "pattern", "One pattern", tooltip="Only the pattern under the cursor, or all"),
        Binding("p", "player", "One player", tooltip="Only the player under the cursor, or all"),
        common.PICTURE_KEY,
        Binding("q,escape", "app.quit", "Close", key_display="q"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?"),
    ]

    def __init__(
        self,
        folder: Path,
        pattern: str | None,
        player: str | None,
        start: datetime | None,
        now: Callable[[], datetime],
    ) -> None:
        super().__init__()
        self.folder, self.now = folder, now
        self.entries: tuple[SessionEntry, ...] = ()
        self.pattern, self.player, self.start = pattern, player, start
        self.told = "reading the sessions …"
        self._trends: list[str] = []
        self._shown: tuple[str, str] | None = None

    def compose(self) -> ComposeResult:
        """Lay out heading, curve, weeks, trends, sessions and keys."""
        yield Lines(lambda _: [((self.told, "strong"),)], id="past-heading")
        with Container(id="past"):
            yield Curve(id="curve")
            yield Weeks(id="weeks")
        yield Lines(self._trend_lines, id="trends")
        yield SessionList(id="sessions")
        yield Footer(show_command_palette=False)

    def on_mount(self) -> None:
        """Put the cursor on the sessions."""
        self.list = self.query_one(SessionList)
        self.list.focus()

    def say(self, told: str) -> None:
        """Say something in the heading."""
        self.told = told
        self.query_one("#past-heading", Lines).redraw()

    def show(self, entries: Sequence[SessionEntry]) -> None:
        """Show the sessions that were found."""
        self.entries = tuple(entries)
        self._choose()

    def _choose(self) -> None:
        """List what the filters leave."""
        chosen = choose_sessions(
            self.entries, pattern=self.pattern, player=self.player, start=self.start
        )
        self.list.show(chosen)
        seconds = sum(entry.seconds for entry in chosen)
        count = count_text(len(chosen), "session")
        only = [printable(one) for one in (self.pattern, self.player) if one]
        names = player_names(chosen)
        several = (
            f"; players: {printable(', '.join(names))} (p: one alone)" if len(names) > 1 else ""
        )
        alone = f"; only {' and '.join(only)}" if only else ""
        self.say(f"{count}, {duration_words(seconds)}{alone}{several}")
        today = self.now().date()
        self.query_one(Weeks).show(minutes_by_day(chosen), today)
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
            for entry in choose_sessions(self.entries, player=player, start=self.start)
            if entry.pattern == pattern
        )
        drawn = curve_of(own, self.now())
        trends = [trend_words(one) for one in PatternHistory(pattern, "", own).trends()]
        call_on_screen(self, self.draw_past, drawn, trends)

    def draw_past(self, drawn: DrawnCurve, trends: Sequence[str]) -> None:
        """Show what was computed."""
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
            self, self.folder / "history.svg", lambda: history_picture.history(entries, today)
        )

    def action_replay(self) -> None:
        """Leave with the session under the cursor, to be replayed."""
        entry = self.list.chosen
        if entry:
            self.app.exit(entry.path)


def curve_of(entries: Sequence[SessionEntry], now: datetime) -> DrawnCurve:
    """Return what the curve draws of one player's sessions of one pattern, the oldest first."""
    if not entries:
        return DrawnCurve("Nothing to draw.")
    last = entries[-1]
    who = ", ".join(printable(one) for one in (last.title, last.player) if one)
    climb = ceilings.climb_of(entries, last.player, last.pattern)
    found = climb.ceiling(now) if climb else None
    heading = f"{ceilings.short_ceiling_words(found) if found else 'no ladder yet'}: {who}"
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
    return DrawnCurve(heading, tuple(fastest), tuple(line))


class HistoryApp(TrainerApp[Path]):
    """The history; `look` reads the folder and may take its time, telling how far it is."""

    def __init__(
        self,
        look: Callable[[Callable[[int], None]], tuple[Sequence[SessionEntry], Sequence[str]]],
        folder: Path,
        pattern: str | None = None,
        player: str | None = None,
        start: datetime | None = None,
        now: Callable[[], datetime] = lambda: datetime.now().astimezone(),
    ) -> None:
        super().__init__()
        self._look = look
        self.past = HistoryScreen(folder, pattern, player, start, now)

    def get_default_screen(self) -> HistoryScreen:
        """Begin with the history."""
        return self.past

    def on_mount(self) -> None:
        """Read the folder."""
        self.call_after_refresh(self.read)

    @work(thread=True)
    def read(self) -> None:
        """Read the folder without holding the screen up."""

        def told(count: int) -> None:
            call_on_screen(self.past, self.past.say, f"reading the sessions … {count}")

        entries, remarks = self._look(told)
        call_on_screen(self.past, self.found, entries, remarks)

    def found(self, entries: Sequence[SessionEntry], remarks: Sequence[str]) -> None:
        """Show the sessions, and what should be known beside."""
        self.past.show(entries)
        for remark in remarks:
            self.notify(printable(remark), severity="warning", markup=False)
