"""The summary of a session after its end: the verdict in large, and everything else one key away.

Where something follows, the summary counts down and continues automatically: the sticks stay in
hand.
"""

from __future__ import annotations

import math
import time
from textwrap import wrap
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.screen import Screen
from textual.widgets import Static

from trainer.console import printable
from trainer.screens import common
from trainer.screens.widgets.canvas import Lines
from trainer.show import drawing
from trainer.show.session_progress import NO_FRAME
from trainer.show.verdict_words import verdict_words

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from textual.app import ComposeResult

    from trainer.archive.session import RungResult
    from trainer.show.ink import Line
    from trainer.show.session_progress import SessionFrame
    from trainer.show.verdict_words import VerdictWords

READ_S = 20.0
"""How long a summary is shown before what follows it begins automatically."""

LOOK_S = 0.25
MARGIN = 2


PLAY_ON = "play on"
"""What the summary is left with to play on at the tempo it names."""

LARGEST = 4
INK = {True: "centre", False: "missed", None: "strong"}


class SummaryScreen(Screen[str | None]):
    """The verdict in large with three lines; and all figures in words."""

    GUIDE = (
        "First whether it was clean, then what broke first. Then time, power and faults, and what "
        "to play next. f shows every figure. Spread is how much strokes vary around their average. "
        "What counts as clean: trainer explain clean. The file named holds every stroke. In a "
        "routine the next block begins after some seconds."
    )
    PADS: ClassVar = {"next": "enter", "restart": ""}
    BINDINGS: ClassVar = [
        Binding(
            "f", "figures", "All figures", tooltip="Every figure, or the verdict", id="figures"
        ),
        Binding(
            "n", "play_on", "Play on", tooltip="Play at the tempo named under Next", id="play-on"
        ),
        Binding("r", "replay", "Replay", tooltip="Go through it stroke by stroke", id="replay"),
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
        verdict: VerdictWords | None = None,
        summary: Mapping[str, Any] | None = None,
        rungs: Sequence[RungResult] = (),
        pictures: Path | None = None,
        around: SessionFrame = NO_FRAME,
        remark: str = "",
        replays: Callable[[], object] | None = None,
        can_continue: bool = False,
        now: Callable[[], float] = time.monotonic,
    ) -> None:
        """Show lines, below the `verdict`, else that of `summary` and the `rungs` of its ladder.

        `pictures` is where a picture goes, without its ending. `remark` is shown above all,
        `replays` opens the replay, `can_continue` offers to play on at the next tempo.
        """
        super().__init__()
        self._around, self._now, self._ends = around, now, math.inf
        self._summary, self._pictures = summary, pictures
        self._heading, self._path = printable(title), path
        self._remark = printable(remark)
        self._replays, self._can_continue = replays, can_continue
        self.verdict = verdict or verdict_words(summary, rungs)
        self._reported = [printable(line) for line in lines]
        unsaved = "" if verdict else "Nothing was saved."
        self._saved = f"Saved: {printable(path)}" if path else unsaved

    def on_mount(self) -> None:
        """Show the verdict first, and count down where something follows."""
        self.set_class(self.verdict is None, "-figures")
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
        if self.verdict:
            yield Lines(self._picture, id="verdict")
        with VerticalScroll(id="summary"):
            yield Static(self._heading, markup=False, classes="heading")
            yield Static(self._saved, markup=False, classes="saved")
            if self._remark:
                yield Static(self._remark, markup=False, classes="heading")
            for line in self._reported:
                words = line.lstrip()
                row = Static(spread_out(words), markup=False)
                row.styles.padding = (0, 0, 0, len(line) - len(words))
                yield row
        yield common.KeyLine()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Offer only what there is something for."""
        del parameters
        verdict = self.verdict
        offered = {
            "picture": self._pictures is not None,
            "figures": verdict is not None and bool(self._reported),
            "replay": self._replays is not None,
            "play_on": self._can_continue and verdict is not None and bool(verdict.next_tempo),
        }
        return offered.get(action, True)

    def _picture(self, columns: int) -> list[Line]:
        """Return the verdict in letters as large as the window has room for."""
        rows = self.query_one("#verdict").size.height
        for times in range(LARGEST, 0, -1):
            for part in range(max(1, times - 1), 0, -1):
                lines = self._at(columns - 2 * MARGIN, times, part)
                if lines and len(lines) <= rows:
                    return [((" " * MARGIN, "plain"), *line) for line in lines]
        return [((" " * MARGIN, "plain"), *line) for line in self._small(columns)]

    def _at(self, columns: int, times: int, part: int) -> list[Line]:
        """Return the picture in such sizes, nothing where a word would be cut."""
        words = self.verdict
        assert words
        head = drawing.wrapped_large_letters(words.headline, columns, times)
        broke = drawing.wrapped_large_letters(words.broke, columns, part)
        wrapped = len(head) > len(drawing.large_letters(words.headline, times))
        if max(map(len, [*head, *broke])) > columns or (wrapped and times > 1):
            return []
        ink = INK[words.clean]
        return [
            ((self._heading[:columns], "plain"),),
            *(((one, "strong"),) for one in wrap(self._remark, columns)),
            (),
            *(((row, ink),) for row in head),
            (),
            *(((row, "strong"),) for row in broke),
            *([()] if broke else []),
            *self._below(columns),
        ]

    def _below(self, columns: int) -> list[Line]:
        """Return the three lines, what comes next and where it is saved."""
        words = self.verdict
        assert words
        rows: list[Line] = [((line, "plain"),) for line in words.lines]
        if words.following and not self._around.after:
            key = " – n plays it" if self.check_action("play_on", ()) else ""
            rows += [(), ((words.following, "strong"), (key, "plain"))]
        saved = wrap(self._saved, columns, break_on_hyphens=False) or [""]
        return [*rows, (), *(((one, "faint"),) for one in saved)]

    def _small(self, columns: int) -> list[Line]:
        """Return the same in plain letters, for a window with no room."""
        words = self.verdict
        assert words
        broke = wrap(words.broke, max(10, columns - 2 * MARGIN))
        head: list[Line] = [((words.headline, INK[words.clean]),)]
        return [*head, *(((one, "strong"),) for one in broke), (), *self._below(columns)]

    def action_figures(self) -> None:
        """Show every figure in words, or the verdict again."""
        self.toggle_class("-figures")

    def action_play_on(self) -> None:
        """Play on at the next tempo."""
        self.dismiss(PLAY_ON)

    def action_replay(self) -> None:
        """Go through the session stroke by stroke."""
        if self._replays:
            self._replays()

    def action_picture(self) -> None:
        """Save the summary as a picture beside the session."""
        from trainer.show.pictures import summary

        if self._pictures is not None:
            path = self._pictures.with_name(f"{self._pictures.name}-summary.svg")
            sheet = summary(self._heading, self._reported, self._summary)
            common.save_screen_picture(self, path, lambda: sheet)

    def action_close(self) -> None:
        """Go back to the screen before."""
        self.dismiss(None)


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
