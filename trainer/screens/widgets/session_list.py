"""A long list of sessions, the newest first, of which only the rows in sight are drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding

from trainer.report import plain
from trainer.screens.messages import SessionChosen
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.events import Click, MouseScrollDown, MouseScrollUp

    from trainer.archive.index import Entry
    from trainer.screens.ink import Line


class SessionList(Canvas, can_focus=True):
    """Sessions and the cursor among them; tells when the cursor moved."""

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
        self.entries: tuple[Entry, ...] = ()
        self.at = 0
        self._top = 0

    @property
    def chosen(self) -> Entry | None:
        """The session under the cursor."""
        return self.entries[self.at] if self.entries else None

    def show(self, entries: Sequence[Entry]) -> None:
        """List some sessions (given the oldest first); the cursor stays on its session."""
        before = self.chosen
        self.entries = tuple(reversed(entries))
        self.at = self.entries.index(before) if before in self.entries else 0
        self.redraw()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the rows in sight, with the cursor's among them."""
        if not self.entries:
            return [(("No session fits.", "faint"),)]
        self._top = min(max(self._top, self.at - rows + 1), self.at)
        shown = self.entries[self._top : self._top + rows]
        return [
            (
                (
                    _row(entry).ljust(columns)[:columns],
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


def _row(entry: Entry) -> str:
    low, high = entry.tempos or (0.0, 0.0)
    tempos = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    rungs = f"{len(entry.rungs)} rungs" if entry.rungs else ""
    by = f", {plain(entry.player)}" if entry.player else ""
    when = f"{entry.started.astimezone():%Y-%m-%d %H:%M}"
    played = f"{tempos:>10} BPM {_time(entry.seconds):>7} {rungs:>8}"
    if entry.empty_words:
        played = f"{entry.empty_words:>{len(played)}}"
    return f"{when} {played}  {plain(entry.title)}{by}"


def _time(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
