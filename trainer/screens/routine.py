"""A routine on the screen: its blocks, which one is next, and the rest between two.

Nothing is played here: each screen is left with what the player chose, and `practice` plays.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.screen import Screen

from trainer.console import printable
from trainer.practice.routine import FREE
from trainer.screens.common import KeyLine
from trainer.screens.widgets.canvas import Lines
from trainer.show import drawing, session_words
from trainer.show.ink import shortened, wrapped_text
from trainer.show.live_words import clock_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from textual.app import ComposeResult
    from textual.events import Resize

    from trainer.practice.routine import Routine, RoutineProgress
    from trainer.show.ink import Line

CONTINUE, AGAIN, STOP = "continue", "again", "stop"
LOOK_S = 0.25
DOT_COLUMNS = 25
"""Dots across that “00:00” needs."""


@dataclass(frozen=True, slots=True)
class RoutineSheet:
    """What is shown of a routine: a line a block, remarks after some, and where it is.

    `at` is the next block (as many as there are blocks: all are done), `left` what is left of it
    in words and `next` in a few large letters.
    """

    title: str
    blocks: tuple[str, ...]
    remarks: Mapping[int, str]
    at: int
    left: str
    next: str

    @property
    def over(self) -> bool:
        """True once every block is done."""
        return self.at >= len(self.blocks)


class RoutineScreen(Screen[str | None]):
    """The blocks; the next one is marked, and shown below in large."""

    GUIDE = (
        "The blocks of the routine in their order. Those done are ticked; the one that is next is "
        "marked, with what is left of it. Enter starts there. You can stop at any time. You "
        "continue where you were, even after a crash."
    )
    SIGNS = (("✓", "done"), ("▶", "next"))
    PADS: ClassVar = {"next": "enter", "restart": ""}
    BINDINGS: ClassVar = [
        Binding("enter", "end('continue')", "Start", tooltip="Start, or continue where it was"),
        Binding("a", "end('again')", "From the top", tooltip="Start again at the first block"),
        Binding("q,escape", "dismiss(None)", "Back", key_display="q", id="close"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def __init__(self, sheet: RoutineSheet) -> None:
        super().__init__()
        self.sheet = sheet
        self._times = 1

    def compose(self) -> ComposeResult:
        """Lay out the title, the blocks, the next one in large and the keys."""
        yield Lines(lambda columns: [self._head(columns)], id="routine-head")
        yield Lines(self._blocks, id="blocks")
        yield Lines(self._next, id="next")
        yield KeyLine()

    def on_resize(self, event: Resize) -> None:
        """Give the next block's letters a quarter of the window, in as large a size as fits."""
        columns, rows = event.size
        wide = len(drawing.large_letters(self.sheet.next, 1)[0])
        self._times = max(1, min((columns - 4) // max(1, wide), rows // 2 // drawing.LETTER_DOTS))
        self.query_one("#next").styles.height = 2 if self.sheet.over else self._height(columns)

    def _height(self, columns: int) -> int:
        return len(drawing.wrapped_large_letters(self.sheet.next, columns - 4, self._times))

    def action_end(self, chosen: str) -> None:
        """Leave with what was chosen; a routine that is done begins again."""
        self.dismiss(AGAIN if self.sheet.over else chosen)

    def _head(self, columns: int) -> Line:
        sheet = self.sheet
        where = "done" if sheet.over else f"block {sheet.at + 1} of {len(sheet.blocks)}"
        title = shortened(printable(sheet.title), columns - len(where) - 3)
        return ((title, "strong"), (f"   {where}", "plain"))

    def _blocks(self, columns: int) -> list[Line]:
        """Return the rows around the next block that there is room for."""
        sheet, begins = self.sheet, 0
        rows: list[Line] = []
        for place, block in enumerate(sheet.blocks):
            if place == sheet.at:
                begins = len(rows)
            rows.append(self._row(place, printable(block), columns))
            if place in sheet.remarks:
                rows.append(((f"         {sheet.remarks[place]}", "faint"),))
        room = self.query_one("#blocks").size.height
        top = max(0, min(begins - room // 2, len(rows) - room))
        return rows[top:]

    def _row(self, place: int, block: str, columns: int) -> Line:
        sheet = self.sheet
        left = f"   {sheet.left}" if sheet.left and place == sheet.at else ""
        block = shortened(block, columns - len("  ✓  1   ") - len(left))
        if place < sheet.at:
            return ((f"  ✓ {place + 1:>2}  {block}", "faint"),)
        if place > sheet.at:
            return ((f"    {place + 1:>2}  {block}", "plain"),)
        return ((f"  ▶ {place + 1:>2}  {block} ", "cursor"), (left, "strong"))

    def _next(self, columns: int) -> list[Line]:
        """Return what is next, in letters as large as a line has room for."""
        if self.sheet.over:
            return [((" The routine is done. Enter starts it again. ", "alert"),)]
        rows = drawing.wrapped_large_letters(self.sheet.next, columns, self._times)
        return [((row, "strong"),) for row in rows]


class RestScreen(Screen[str]):
    """The time left of a rest, as large as the window allows, and what comes after it."""

    GUIDE = (
        "A rest between two blocks: put the sticks down. It ends automatically; enter, or a pad "
        "that is a key, continues at once. s stops the routine here."
    )
    PADS: ClassVar = {"next": "enter", "restart": ""}
    BINDINGS: ClassVar = [
        Binding("enter,space", "end('continue')", "Continue", key_display="enter"),
        Binding("s,q,escape", "end('stop')", "Stop here", key_display="s"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def __init__(
        self, seconds: float, after: str, now: Callable[[], float] = time.monotonic
    ) -> None:
        """Rest for some seconds; `after` says what comes then, `now` the time."""
        super().__init__()
        self._now = now
        self._ends = now() + seconds
        self._after = after

    def compose(self) -> ComposeResult:
        """Lay out the time and what comes next."""
        yield Lines(self._time, id="time-left")
        yield Lines(self._words, id="after")
        yield KeyLine()

    def on_mount(self) -> None:
        """Look at the clock; only figures that change are drawn."""
        self.set_interval(LOOK_S, self._look)

    def _look(self) -> None:
        if self._now() >= self._ends:
            self.action_end(CONTINUE)
        self.query_one("#time-left", Lines).redraw()

    def _time(self, columns: int) -> Sequence[Line]:
        left = max(0, round(self._ends - self._now()))
        height = self.query_one("#time-left").size.height
        times = max(1, min(columns // DOT_COLUMNS, 2 * height // drawing.LETTER_DOTS))
        rows = drawing.large_letters(clock_text(left), times)
        above = max(0, (height - len(rows)) // 2)
        return [*[()] * above, *(((row.center(columns), "strong"),) for row in rows)]

    def _words(self, columns: int) -> list[Line]:
        then = f"Then: {printable(self._after)}" if self._after else "Then the routine is done."
        words = [((f" {line}", "plain"),) for line in wrapped_text(then, columns - 1)]
        return [((" Rest: put the sticks down. ", "alert"),), *words]

    def action_end(self, chosen: str) -> None:
        """Leave with what was chosen."""
        if self.is_current:  # under the help the rest waits
            self.dismiss(chosen)


def sheet_of(routine: Routine, progress: RoutineProgress) -> RoutineSheet:
    """Return what is shown of a routine that has come so far."""
    blocks = tuple(session_words.block_words(block) for block in routine.blocks)
    left = large = ""
    if not progress.over(routine):
        block, left_s = routine.blocks[progress.block], progress.left(routine)
        left = f"{clock_text(left_s)} left" if progress.seconds else ""
        large = f"{'open block' if block.kind == FREE else block.kind} {clock_text(left_s)}"
    title = f"{routine.title}: {routine.minutes:g} minutes"
    remarks = session_words.rest_remarks(routine)
    return RoutineSheet(title, blocks, remarks, progress.block, left, large)
