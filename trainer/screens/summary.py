"""The summary of a session after its end, with the place it was saved at.

Where something follows, the summary counts down and continues automatically: the sticks stay in
hand.
"""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Footer, Static

from trainer.console import printable
from trainer.screens import common
from trainer.screens.widgets.canvas import Lines
from trainer.show.session_progress import NO_FRAME

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from textual.app import ComposeResult

    from trainer.show.session_progress import SessionFrame

READ_S = 20.0
"""How long a summary is shown before what follows it begins automatically."""

LOOK_S = 0.25


class SummaryScreen(Screen[None]):
    """The summary in words."""

    GUIDE = (
        "What was played, by the numbers: counts first, then time, then where it went wrong. "
        "Spread is how much strokes vary around their average. The file named on top holds every "
        "stroke; “trainer replay” goes through it again. In a routine the next block begins after "
        "some seconds."
    )
    PADS: ClassVar = {"next": "enter", "restart": ""}
    BINDINGS: ClassVar = [
        common.PICTURE_KEY,
        Binding("q,escape,enter", "close", "Close", key_display="q", id="close"),
        Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help"),
    ]

    def __init__(
        self,
        title: str,
        lines: Sequence[str],
        path: str | None,
        *,
        summary: Mapping[str, Any] | None = None,
        pictures: Path | None = None,
        around: SessionFrame = NO_FRAME,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        """Show lines; `pictures` is where a picture of them goes, without its ending."""
        super().__init__()
        self._around, self._now, self._ends = around, now, math.inf
        self._summary, self._pictures = summary, pictures
        self._heading = printable(title)
        self._reported = [printable(line) for line in lines]
        self._saved = f"Saved: {printable(path)}" if path else "Nothing was saved."

    def on_mount(self) -> None:
        """Count down where something follows."""
        if self._around.after:
            self._ends = self._now() + READ_S
            self.set_interval(LOOK_S, self._look)

    def _look(self) -> None:
        """Show the seconds left; at their end continue, but never from under the help."""
        self.query_one("#follows", Lines).redraw()
        if self._now() >= self._ends and self.app.screen is self:
            self.action_close()

    def _follows(self) -> str:
        """Return what follows and when, in one line."""
        left = max(0, math.ceil(min(self._ends - self._now(), READ_S)))
        keys = f"q or {self._around.pads}" if self._around.pads else "q"
        return f" Next: {printable(self._around.after)}, in {left} s; {keys} continues at once. "

    def compose(self) -> ComposeResult:
        """Lay out what follows, the heading, the path and the lines."""
        if self._around.after:
            yield Lines(lambda _: [((self._follows(), "alert"),)], id="follows")
        with VerticalScroll(id="summary"):
            yield Static(self._heading, markup=False, classes="heading")
            yield Static(self._saved, markup=False, classes="saved")
            for line in self._reported:
                yield Static(spread_out(line), markup=False, classes="told")
        yield Footer(show_command_palette=False)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer the picture only where there is a place for it."""
        del parameters
        return action != "picture" or self._pictures is not None

    def action_picture(self) -> None:
        """Save the summary as a picture beside the session."""
        from trainer.show.pictures import summary

        if self._pictures is not None:
            path = self._pictures.with_name(f"{self._pictures.name}-summary.svg")
            sheet = summary(self._heading, self._reported, self._summary)
            common.save_screen_picture(self, path, lambda: sheet)

    def action_close(self) -> None:
        """Go back to the screen before."""
        self.dismiss()


def spread_out(line: str) -> Text:
    """Return a line with its label stressed, and a long list of parts one below the other."""
    label, colon, rest = line.partition(": ")
    if not colon or len(label) > LONGEST_LABEL:
        return Text(line)
    parts = rest.split("; ")
    joined = "\n  ".join(["", *parts]) if len(parts) > FEW else f" {rest}"
    return Text.assemble((label + ":", "bold"), joined)


LONGEST_LABEL = 24
FEW = 2
