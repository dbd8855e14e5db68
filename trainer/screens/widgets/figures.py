"""The figures beside the grid: tempo and beat in large, where we are, the running picture."""

from __future__ import annotations

import asyncio
import time
from typing import TYPE_CHECKING

from trainer.screens import digits, rungs, words
from trainer.screens.ink import fit
from trainer.screens.progress import COUNT_IN, PAUSED, PLAYING, WAITING
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.ink import Line
    from trainer.screens.progress import Progress

SCALE_S = 0.040
"""The offset at either end of the scale, in seconds."""

COLUMN_ROWS = 12
"""With this many rows the figures stand in a column, with fewer in a strip."""

OFTEN_S = 0.1
"""How often figures that change with every stroke are drawn: nobody reads them faster."""

_NAMES = {
    COUNT_IN: "COUNT-IN",
    PAUSED: "PAUSED",
    PLAYING: "beat",
    WAITING: "get ready",
}


class Figures(Canvas):
    """Draws a `Progress` as a strip five rows high, or as a column."""

    def __init__(self, progress: Progress, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.progress = progress
        self._due_s = 0.0
        self._waiting: asyncio.TimerHandle | None = None

    def wait(self) -> bool:
        """Return whether running figures should wait; then they draw themselves in their turn."""
        now = time.monotonic()
        if self._waiting:
            return True
        if now >= self._due_s:
            self._due_s = now + OFTEN_S
            return False
        loop = asyncio.get_running_loop()
        self._waiting = loop.call_later(self._due_s - now, self._take_turn)
        return True

    def _take_turn(self) -> None:
        self._waiting = None
        self._due_s = time.monotonic() + OFTEN_S
        self.redraw()

    def on_unmount(self) -> None:
        """Wait no more."""
        if self._waiting:
            self._waiting.cancel()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the strip or the column."""
        blocks = [self._tempo(), self._beat(), self._place(), self._picture()]
        if rows >= COLUMN_ROWS:
            tall = [
                *blocks[0],
                (),
                *blocks[1],
                (),
                *blocks[2],
                (),
                *blocks[3],
                (),
                *self._verdict(),
                (),
                self._ladder(columns - 2),
            ]
            return [(("  ", "plain"), *line) for line in tall]
        widths = (14, 12, 18, columns - 44)
        strip = [
            tuple(
                span
                for block, size in zip(blocks, widths, strict=True)
                for span in fit(block[row] if row < len(block) else (), size)
            )
            for row in range(4)
        ]
        return [*strip, self._ladder(columns) or self._reasons()]

    def _tempo(self) -> list[Line]:
        figures = digits.big(f"{self.progress.tempo:.0f}")
        coming = self.progress.next_tempo
        note = f"BPM, next {coming:.0f}" if coming else "BPM"
        return [*_lines(figures, "strong"), ((note, "faint"),)]

    def _beat(self) -> list[Line]:
        progress = self.progress
        counting = progress.phase in (COUNT_IN, PLAYING)
        figures = digits.big(str(progress.beat + 1) if counting else "-")
        playing = progress.phase == PLAYING
        name = _NAMES.get(progress.phase, progress.phase)
        return [
            *_lines(figures, "strong" if playing else "calling"),
            ((name, "faint") if playing else (f" {name} ", "alert"),),
        ]

    def _place(self) -> list[Line]:
        progress = self.progress
        of_passes = f" of {progress.passes}" if progress.passes else ""
        of_bars = len(progress.board.grid.bars)
        return [
            ((f"pass {progress.pass_number}{of_passes}", "plain"),),
            ((f"bar {progress.bar + 1} of {of_bars}", "plain"),),
            ((f"beat {progress.beat + 1} of {progress.beats}", "plain"),),
            self._short_verdict(),
        ]

    def _ladder(self, columns: int) -> Line:
        """Return the last rungs of a ladder, nothing where there is none."""
        return rungs.row(self.progress.rungs, columns)

    def _reasons(self) -> Line:
        """Return what was not clean in the last whole pass, on one line."""
        if self.progress.clean is not False:
            return ()
        return (("not clean: ", "missed"), ("; ".join(self.progress.failed), "plain"))

    def _short_verdict(self) -> Line:
        """Return the verdict of the last whole pass in the strip's few characters."""
        clean = self.progress.clean
        if clean is None:
            return ()
        return (("last: clean", "centre"),) if clean else (("last: not clean", "missed"),)

    def _verdict(self) -> list[Line]:
        """Return whether the last whole pass was clean, or what was not."""
        progress = self.progress
        if progress.clean is None:
            return [()]
        if progress.clean:
            return [(("last pass clean", "centre"),)]
        return [
            (("last pass not clean", "missed"),),
            *(((text, "plain"),) for text in progress.failed),
        ]

    def _picture(self) -> list[Line]:
        tally = self.progress.tally
        mean, spread = tally.offset_mean_s, tally.offset_spread_s
        side = words.side(mean)
        spread_text = "–" if spread is None else f"{spread * 1000:.0f} ms"
        return [
            (("mean   ", "faint"), (f"{words.offset(mean):<12}", side), *_scale(mean)),
            (("spread ", "faint"), (spread_text, "plain")),
            _counts(("played", tally.played), ("wrong", tally.wrong_pad), ("missed", tally.missed)),
            _counts(("extra ", tally.extra), ("rim  ", tally.rim), ("double", tally.double)),
        ]


def _lines(texts: Sequence[str], ink: str) -> list[Line]:
    return [((text, ink),) for text in texts]


def _counts(*counts: tuple[str, int]) -> Line:
    """Return names with their counts, in columns."""
    return tuple(
        span for name, count in counts for span in ((name, "faint"), (f" {count:<5}", "plain"))
    )


def _scale(offset_s: float | None) -> Line:
    """Return a small scale with early on the left, late on the right and a mark where we stand."""
    half = 6
    marks = list("─" * half + "┼" + "─" * half)
    ink = "faint"
    if offset_s is not None:
        at = round(max(-1.0, min(1.0, offset_s / SCALE_S)) * half)
        marks[half + at] = "●"
        ink = "strong"
    return (("".join(marks), ink),)
