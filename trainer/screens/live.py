"""The live screen: the bar as it is written, the beat moving over it, and what landed.

It watches. Everything it shows comes from the handle's events; everything the player wants goes
back as a command, and shows only when an event confirms it. The event loop watches the handle's
file descriptor; where it cannot (Windows, or a handle without one) a timer looks often enough to
be felt as at once.
"""

from __future__ import annotations

import asyncio
import gc
import time
from typing import TYPE_CHECKING, Any, ClassVar

from textual.binding import Binding
from textual.containers import Container
from textual.screen import Screen
from textual.widgets import Footer, Static

from trainer.console import printable
from trainer.pattern.as_played import beat_length
from trainer.practice import events
from trainer.practice.course import seconds_per_quarter
from trainer.screens.common import terminal_is_behind
from trainer.screens.dialogs import help_of
from trainer.screens.widgets.bar_grid import BarGrid
from trainer.screens.widgets.canvas import Ground, Lines, redraw_together
from trainer.screens.widgets.figures import Figures
from trainer.screens.widgets.large_view import Between, Far
from trainer.show import signs
from trainer.show.board import Board
from trainer.show.grid import BeatCursor
from trainer.show.plain_text import key_rows
from trainer.show.session_progress import (
    COUNT_IN,
    NO_FRAME,
    PAUSED,
    PLAYING,
    SessionProgress,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.app import App, ComposeResult
    from textual.events import Key, Resize
    from textual.timer import Timer

    from trainer.engine.process import Handle
    from trainer.pattern.model import Pattern
    from trainer.screens.widgets.canvas import Canvas
    from trainer.show.ink import Line
    from trainer.show.session_progress import SessionFrame

STROKES = (events.HitJudged, events.TargetMissed, events.IdleHit, events.Tally)
"""What comes with every stroke: seen at once on the grid, five times a second in the figures."""

CATCH_UP_S = 0.1
"""How soon to look again whether a slow terminal has taken what was drawn."""

DRAW_EVERY_S = 0.008
"""The least time from one drawing to the next: in a flood most of the time is left to others."""

SETTLED_S = 0.4
"""How long after its last change the size of the window counts as settled."""

SMALLEST = (50, 14)
"""Columns and rows below which the screen only says that it is too small."""


POLL_S = 1 / 60


class EventFeed:
    """Calls `hear` with new events, and `ended` once when the other side is gone."""

    def __init__(
        self,
        handle: Handle,
        hear: Callable[[Sequence[events.Event]], None],
        ended: Callable[[], None],
    ) -> None:
        self._handle = handle
        self._hear = hear
        self._ended = ended
        self._descriptor = -1
        self._timer: Timer | None = None

    def start(self, app: App[Any]) -> None:
        """Begin to listen."""
        try:
            self._descriptor = self._handle.fileno()
            if self._descriptor < 0:
                raise NotImplementedError
            asyncio.get_running_loop().add_reader(self._descriptor, self._take)
        except (NotImplementedError, OSError, ValueError):
            self._descriptor = -1
            self._timer = app.set_interval(POLL_S, self._take)

    def stop(self) -> None:
        """Listen no more."""
        if self._descriptor >= 0:
            asyncio.get_running_loop().remove_reader(self._descriptor)
            self._descriptor = -1
        if self._timer is not None:
            self._timer.stop()
            self._timer = None

    def _take(self) -> None:
        try:
            heard = self._handle.poll()
        except (EOFError, OSError):
            self.stop()
            self._ended()
            return
        if heard:
            self._hear(heard)


class Floor(Ground, Container):
    """The ground that grid and figures are drawn on."""


class Keys(Ground, Footer):
    """The keys of the screen: only they are drawn, and the line below them never again."""


class LiveScreen(Ground, Screen[None]):
    """Practising: the grid, the figures and the last stroke in words."""

    GUIDE = (
        "The bar being played: steps across, voices down, the sticking in the cells. ▼ shows "
        "where the beat is. Early strokes have their sign on the left, late ones right; in large, "
        "arrows. Two posts: on time. A level bar: missed. Marks stay until the beat before them "
        "comes round again. Mean and spread are of all strokes so far; minus is early. "
        "In a silent bar nothing moves here: keep time. The summary shows how far off you came "
        "back. Playing is paused now. space continues with your bar, after a count-in."
    )
    SIGNS = signs.SIGN_MEANINGS
    BINDINGS: ClassVar = [
        Binding("space", "pause", "Pause", id="pause"),
        Binding("r", "restart", "Restart", id="restart"),
        Binding("up,plus,equals_sign", "tempo(1)", "Faster", key_display="↑", id="faster"),
        Binding("down,minus", "tempo(-1)", "Slower", key_display="↓", id="slower"),
        Binding("z", "far", "Large", tooltip="Large figures, to be read from afar", id="far"),
        Binding("q", "leave", "Save, quit", id="leave"),
        Binding("ctrl+c", "leave", "Save, quit", show=False, id="interrupt"),
        Binding("question_mark,f1", "help", "Help", key_display="?", id="help"),
    ]

    def __init__(
        self,
        pattern: Pattern,
        tempo: float,
        handle: Handle,
        passes: int | None = None,
        around: SessionFrame = NO_FRAME,
    ) -> None:
        """`tempo` (BPM) is shown until the first beat; `passes` is None without a set end."""
        super().__init__()
        self.handle = handle
        self.finished: events.Finished | None = None
        self._over = asyncio.Event()
        self._feed = EventFeed(handle, self.hear, self._over.set)
        self.pattern = pattern
        self.progress = SessionProgress(Board(pattern), tempo, passes, around)
        self.cursor = BeatCursor()
        self._next_step: asyncio.TimerHandle | None = None
        self._settling: Timer | None = None
        self._frozen = False
        self.remarks: list[str] = []
        self._catching_up: asyncio.TimerHandle | None = None
        self._next_draw_s = 0.0
        self._calm_later = True

    def compose(self) -> ComposeResult:
        """Lay out title, grid, figures, last stroke and keys."""
        title = printable(self.pattern.title or self.pattern.name)
        yield Lines(lambda columns: [self.progress.title_line(title, columns)], id="title")
        with Floor(id="play"):
            yield Figures(self.progress, id="figures")
            yield BarGrid(self.progress.board, id="bar")
        yield Far(self.progress, id="far")
        yield Between(self.progress, id="between")
        if self.progress.around.keys:
            yield Static("\n".join(self._key_rows()), id="keys", markup=False)
        yield Lines(lambda _: [self._last()], id="last")
        yield Static(
            "The window is too small for the grid. Make it larger; playing continues.",
            id="small",
            markup=False,
        )
        yield Keys(show_command_palette=False)

    def on_mount(self) -> None:
        """Keep what is drawn at every stroke at hand."""
        self.grid = self.query_one(BarGrid)
        self.figures = self.query_one(Figures)
        self.far = self.query_one(Far)
        self.between = self.query_one(Between)
        self.title_line = self.query_one("#title", Lines)
        self.last_line = self.query_one("#last", Lines)
        # There is something to draw on by then.
        self.call_after_refresh(self._begin)

    def _begin(self) -> None:
        """Listen, with all that the app is made of left out of what the interpreter goes through.

        A full search for garbage takes 30 ms and more, in which no stroke is shown.
        """
        gc.collect()
        gc.freeze()
        self._feed.start(self.app)

    async def ended(self) -> events.Finished | None:
        """Wait for the end; return it, None where the practice loop ended without a word."""
        await self._over.wait()
        return self.finished

    def on_unmount(self) -> None:
        """Let the cursor rest."""
        gc.unfreeze()
        self._feed.stop()
        for timer in (self._next_step, self._catching_up):
            if timer:
                timer.cancel()

    def on_resize(self, event: Resize) -> None:
        """Say so when the window is too small."""
        columns, rows = event.size
        self.set_class(columns < SMALLEST[0] or rows < SMALLEST[1], "-tiny")
        self.set_class(rows < SMALLEST[1] + 4, "-short")
        self.figures.fit_window(columns, rows)
        if self._settling:
            self._settling.stop()
        # A terminal may still be growing while it is drawn on: what it lost then is drawn again.
        self._settling = self.set_timer(SETTLED_S, self.refresh)

    def hear(self, heard: Sequence[events.Event]) -> None:
        """Take in what happened and draw it once."""
        for event in heard:
            self.progress.hear(event)
            if isinstance(event, events.BeatStarted):
                self._begin_beat(event)
                self._make_room(event)
            elif isinstance(event, events.RestStarted) and self.is_mounted:
                self.between.rest_began()
            elif isinstance(event, events.Notice) and self._is_over(heard):
                # The summary that follows says it; a note would lie over its words.
                self.remarks.append(printable(event.text))
            elif isinstance(event, events.Notice):
                self.notify(printable(event.text), severity=event.severity, markup=False)  # type: ignore[arg-type]
            elif isinstance(event, events.Finished):
                self.finished = event
                self._feed.stop()
                self._over.set()
        if self.is_mounted:
            self._draw(calm=all(isinstance(event, STROKES) for event in heard))

    @staticmethod
    def _is_over(heard: Sequence[events.Event]) -> bool:
        return any(isinstance(one, events.Finished) for one in heard)

    def _draw(self, *, calm: bool = False) -> None:
        """Draw what is on view in one update; `calm` is for news of strokes alone.

        A terminal that cannot keep up gets what is so when it has caught up. What comes right after
        another drawing waits its turn.
        """
        loop = asyncio.get_running_loop()
        behind = terminal_is_behind(self.app)
        if behind or loop.time() < self._next_draw_s:
            self._calm_later = calm and self._calm_later
            self._draw_later(CATCH_UP_S if behind else self._next_draw_s - loop.time())
            return
        self._next_draw_s = loop.time() + DRAW_EVERY_S
        self.set_class(self.between.wanted, "-between")
        self._place_cursor()
        title = [] if calm else [self.title_line]
        redraw_together(self, [*title, *self._on_view(calm)])

    def _draw_later(self, seconds: float) -> None:
        """Draw all there is to see in a while, once."""
        if self._catching_up is None:
            self._catching_up = asyncio.get_running_loop().call_later(seconds, self._catch_up)

    def _catch_up(self) -> None:
        self._catching_up = None
        calm, self._calm_later = self._calm_later, True
        self._draw(calm=calm)

    def _on_view(self, calm: bool) -> list[Canvas]:
        """Return what the middle of the screen shows now; the figures may wait for their turn."""
        if self.between.wanted:
            return [self.between]
        # In a silent bar the eye gets no time from here either, only that it is one.
        frozen, self._frozen = self._frozen, self.progress.silent
        if frozen and self._frozen:
            return []
        if self.has_class("-far"):
            return [self.far]
        figures = [] if calm and self.figures.wait() else [self.figures]
        return [self.last_line, self.grid, *figures]

    def _begin_beat(self, event: events.BeatStarted) -> None:
        bar = self.progress.bar
        self.cursor.begin(
            self.progress.board.grid.bars[bar],
            self.pattern.bars[bar],
            event.beat,
            time.monotonic(),
            seconds_per_quarter(self.pattern, event.tempo),
        )
        if self.progress.phase == COUNT_IN:
            self.cursor.stand()

    def _make_room(self, event: events.BeatStarted) -> None:
        """Wipe old marks of this beat and the next, so that what is new differs from it."""
        progress = self.progress
        if progress.phase != PLAYING:
            return
        bar = self.pattern.bars[progress.bar]
        columns = progress.board.grid.bars[progress.bar]
        size = beat_length(self.pattern, bar.meter)
        start = bar.start + size * event.beat
        ahead = [
            column for column, beat in enumerate(columns.beats) if start <= beat < start + 2 * size
        ]
        if ahead:
            progress.board.make_room(
                progress.bar, range(ahead[0], ahead[-1] + 1), progress.pass_index
            )

    def _move_cursor(self) -> None:
        self._place_cursor()
        if not (terminal_is_behind(self.app) or self.progress.silent):
            redraw_together(self, [self.grid])

    def _place_cursor(self) -> None:
        """Put the cursor on the beat, and come back when it reaches the next step."""
        now, phase = time.monotonic(), self.progress.phase
        moves = phase in (PLAYING, COUNT_IN) and not self.progress.silent
        column = self.cursor.column(now) if moves else None
        self.grid.look_at(self.progress.bar, column, counting=phase == COUNT_IN)
        if self._next_step:
            self._next_step.cancel()
        wait_s = self.cursor.next_s(now) if moves else None
        loop = asyncio.get_running_loop()
        self._next_step = None if wait_s is None else loop.call_later(wait_s, self._move_cursor)

    def _last(self) -> Line:
        return ((self.progress.last or "no stroke yet", "strong"),)

    def action_pause(self) -> None:
        """Pause, or continue with a count-in."""
        self._send("toggle")

    def action_restart(self) -> None:
        """Start the pattern again from its first bar."""
        self._send("restart")

    def action_tempo(self, step: float) -> None:
        """Move the tempo one BPM up or down."""
        self._send("tempo", step)

    def action_far(self) -> None:
        """Show large figures instead of the grid, or the grid again."""
        self.toggle_class("-far")
        self._draw()

    def action_help(self) -> None:
        """Show the help; playing pauses, and continues with space where it was."""
        if self.progress.phase != PAUSED:
            self._send("pause")
        pads = self._key_rows() if self.progress.around.keys else []
        self.app.push_screen(help_of(self, pads))

    def _key_rows(self) -> list[str]:
        return key_rows(left_handed=self.progress.around.left_handed)

    def action_leave(self) -> None:
        """End the session; it is saved and the summary follows."""
        self._send("quit")

    def on_key(self, event: Key) -> None:
        """Pass other keys on: they may be pads of the computer keyboard."""
        if event.character and event.is_printable and event.key not in self.active_bindings:
            # The time of the key is the time of the stroke where keys are the pads.
            self._send("key", time.perf_counter(), event.character)

    def _send(self, name: str, amount: float = 0.0, text: str = "") -> None:
        try:
            self.handle.send(events.Command(name, amount, text))
        except (OSError, EOFError):
            self._over.set()
