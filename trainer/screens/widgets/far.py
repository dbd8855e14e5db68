"""The far view: tempo, beat, early or late, clean or what failed, as large as the window allows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.screens import digits
from trainer.screens.ink import fit
from trainer.screens.progress import COUNT_IN, PLAYING
from trainer.screens.signs import ON_TIME_S
from trainer.screens.widgets.canvas import Canvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.screens.ink import Line
    from trainer.screens.progress import Progress

MARGIN = 2
DOT_COLUMNS = {"tempo and beat": 25, "offset": 27}
"""Dots across that each line of large figures needs: 120 and 12 apart; a sign and three figures."""


class Far(Canvas):
    """Draws a `Progress` in large."""

    def __init__(self, progress: Progress, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.progress = progress

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return tempo and beat, then the last stroke's side, then the words."""
        times = max(1, min(columns // DOT_COLUMNS["offset"], (rows - 6) // digits.DOTS))
        return [
            (),
            *self._tempo_and_beat(columns, times),
            (),
            *self._side(columns, times),
            (),
            (("  " + (self.progress.last or "no stroke yet"), "strong"),),
            *self._verdict(),
            (("  ", "plain"), *self.progress.rung_row(columns - 2 * MARGIN)),
        ]

    def _tempo_and_beat(self, columns: int, times: int) -> list[Line]:
        """Return the tempo on the left and the beat on the right."""
        progress = self.progress
        counting = progress.phase in (COUNT_IN, PLAYING)
        tempo = digits.larger(f"{progress.tempo:.0f}", times)
        beat = digits.larger(str(progress.beat + 1) if counting else "-", times)
        ink = "strong" if progress.phase == PLAYING else "calling"
        room = columns - 2 * MARGIN - len(beat[0])
        return [
            ((" " * MARGIN, "plain"), *fit(((left, "strong"),), room), (right, ink))
            for left, right in zip(tempo, beat, strict=True)
        ]

    def _side(self, columns: int, times: int) -> list[Line]:
        """Return the last offset in ms: early on the left, late on the right, else the middle."""
        offset = self.progress.last_offset_s
        room = columns - 2 * MARGIN
        if offset is None:
            blank = digits.larger("-", times)
            return [((" " * MARGIN + row.center(room), "faint"),) for row in blank]
        ms = f"{abs(offset) * 1000:.0f}"
        if abs(offset) <= ON_TIME_S:
            shown, ink, place = digits.larger("■", times), "centre", str.center
        elif offset < 0:
            shown, ink, place = digits.larger(f"◄ {ms}", times), "early", str.ljust
        else:
            shown, ink, place = digits.larger(f"{ms} ►", times), "late", str.rjust
        return [((" " * MARGIN + place(row, room), ink),) for row in shown]

    def _verdict(self) -> list[Line]:
        """Return whether the last pass was clean, or the two things that were least so."""
        progress = self.progress
        if progress.clean is None:
            return []
        if progress.clean:
            return [(("  last pass clean", "centre"),)]
        first, *more = (*progress.failed, "")
        told = [(("  not clean: ", "missed"), (first, "strong"))]
        return [*told, *(((" " * 13 + text, "strong"),) for text in more[:1] if text)]
