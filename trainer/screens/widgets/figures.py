"""The figures beside the grid: tempo and beat in large, where we are, the running picture."""

from __future__ import annotations

import asyncio
import time
from typing import TYPE_CHECKING

from trainer.screens.widgets.canvas import Canvas, redraw_together
from trainer.show import drawing, live_words
from trainer.show.grid import letter_rows
from trainer.show.ink import fit_line
from trainer.show.session_progress import COUNT_IN, PAUSED, PLAYING, WAITING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.show.ink import Line
    from trainer.show.session_progress import SessionProgress

SMALLEST_WINDOW = (80, 24)
"""Columns and rows for each size of the large figures: in twice as much they are twice as large."""

LARGEST = 4

OFTEN_S = 0.2
"""How often figures that change with every stroke are drawn: nobody reads them faster."""

FEWEST = 4
"""Blocks that are always shown; the last two only where there is room."""

_NAMES = {
    COUNT_IN: "COUNT-IN",
    PAUSED: "PAUSED",
    PLAYING: "beat",
    WAITING: "get ready",
}


class Figures(Canvas):
    """Draws a `Progress` as a strip, as high as its large figures need."""

    def __init__(self, progress: SessionProgress, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.progress = progress
        self.times = 1
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
        redraw_together(self.screen, [self])

    def on_unmount(self) -> None:
        """Wait no more."""
        if self._waiting:
            self._waiting.cancel()

    def fit_window(self, columns: int, rows: int) -> None:
        """Choose the size of the large figures for a window, and so the height of the strip."""
        share = min(columns // SMALLEST_WINDOW[0], rows // SMALLEST_WINDOW[1])
        self.times = max(1, min(LARGEST, share))
        self.styles.height = letter_rows(self.times) + (2 if self.times == 1 else 3)

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the strip: the large figures, where we are, the running picture, the verdict."""
        blocks = [
            (_wide(self.times, "000", 2), self._tempo()),
            (max(12, _wide(self.times, "00", 2)), self._beat()),
            (18, self._place()),
            (36, self._picture()),
            (_wide(self.times, "◄ 000", 2), self._mean()),
            (_wide(self.times, "000", 0), self._spread()),
        ]
        while sum(size for size, _ in blocks) > columns and len(blocks) > FEWEST:
            blocks.pop()
        last = columns - sum(size for size, _ in blocks[:-1])
        blocks[-1] = (last, blocks[-1][1])
        high = letter_rows(self.times) + 1
        strip = [
            tuple(
                span
                for size, block in blocks
                for span in fit_line(block[row] if row < len(block) else (), size)
            )
            for row in range(high)
        ]
        reported = [line for line in (self._ladder(columns), self._reasons(columns)) if line]
        return [*strip, *reported][:rows]

    def _tempo(self) -> list[Line]:
        figures = drawing.large_letters(f"{self.progress.tempo:.0f}", self.times)
        coming = self.progress.next_tempo
        note = f"next {coming:.0f} BPM" if coming else "BPM"
        return [*_lines(figures, "strong"), ((note, "faint"),)]

    def _beat(self) -> list[Line]:
        progress = self.progress
        counting = progress.phase in (COUNT_IN, PLAYING) and not progress.silent
        figures = drawing.large_letters(str(progress.beat + 1) if counting else "-", self.times)
        playing = progress.phase == PLAYING
        name = "silent" if progress.silent else _NAMES.get(progress.phase, progress.phase)
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
        return self.progress.rung_row(columns)

    def _reasons(self, columns: int) -> Line:
        """Return what was not clean in the last whole pass, as much as fits whole on one line."""
        if self.progress.clean is not False:
            return ()
        head, failed = "not clean: ", self.progress.failed
        text = "; ".join(failed)
        for count in range(len(failed) - 1, 0, -1):
            if len(head) + len(text) > columns:
                text = "; ".join(failed[:count]) + "; …"
        return ((head, "missed"), (text, "plain"))

    def _short_verdict(self) -> Line:
        """Return the verdict of the last whole pass in the strip's few characters."""
        clean = self.progress.clean
        if clean is None:
            return ()
        return (("last: clean", "centre"),) if clean else (("last: not clean", "missed"),)

    def _mean(self) -> list[Line]:
        """Return the mean offset in large, with an arrow to its side."""
        mean = self.progress.tally.offset_mean_s
        ms = "-" if mean is None else f"{abs(mean) * 1000:.0f}"
        off = round((mean or 0.0) * 1000)
        shown = f"◄ {ms}" if off < 0 else f"{ms} ►" if off > 0 else ms
        name = "mean, ms early" if off < 0 else "mean, ms late" if off > 0 else "mean, ms"
        ink = "strong" if mean is None else live_words.offset_ink(mean)
        return [*_lines(drawing.large_letters(shown, self.times), ink), ((name, "faint"),)]

    def _spread(self) -> list[Line]:
        """Return the spread in large."""
        spread = self.progress.tally.offset_spread_s
        ms = "-" if spread is None else f"{spread * 1000:.0f}"
        return [
            *_lines(drawing.large_letters(ms, self.times), "strong"),
            (("spread, ms", "faint"),),
        ]

    def _picture(self) -> list[Line]:
        tally = self.progress.tally
        if self.progress.open_block:
            return [(("open block: no verdict", "faint"),), _counts(("strokes", tally.extra))]
        mean, spread = tally.offset_mean_s, tally.offset_spread_s
        ink = live_words.offset_ink(mean)
        spread_text = "–" if spread is None else f"{spread * 1000:.0f} ms"
        return [
            (("mean   ", "faint"), (live_words.early_or_late(mean), ink)),
            (("spread ", "faint"), (spread_text, "plain")),
            _counts(("played", tally.played), ("wrong", tally.wrong_pad), ("missed", tally.missed)),
            _counts(("extra ", tally.extra), ("rim  ", tally.rim), ("double", tally.double)),
        ]


def _wide(times: int, text: str, gap: int) -> int:
    """Return the columns of a block that holds such large figures."""
    return len(drawing.large_letters(text, times)[0]) + gap * times


def _lines(texts: Sequence[str], ink: str) -> list[Line]:
    return [((text, ink),) for text in texts]


def _counts(*counts: tuple[str, int]) -> Line:
    """Return names with their counts, in columns."""
    return tuple(
        span for name, count in counts for span in ((name, "faint"), (f" {count:<5}", "plain"))
    )
