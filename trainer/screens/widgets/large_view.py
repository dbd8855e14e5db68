"""What is read from two metres: the far view while playing, and the verdict between two rungs.

The far view has tempo, beat, early or late, clean or what failed; the verdict has clean or not,
what failed first, the next tempo and the time left. Both are as large as the window allows, to be
read in two seconds with the sticks in the hands.
"""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING

from trainer.console import printable
from trainer.screens.widgets.canvas import Canvas
from trainer.show import drawing, live_words
from trainer.show.ink import fit_line
from trainer.show.live_words import clock_text
from trainer.show.session_progress import COUNT_IN, PLAYING, RESTING
from trainer.show.signs import ON_TIME_S

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.practice.events import RungEnded
    from trainer.show.ink import Line
    from trainer.show.session_progress import SessionProgress


MARGIN = 2
DOT_COLUMNS = {"tempo and beat": 25, "offset": 27}
"""Dots across that each line of large figures needs: 120 and 12 apart; a sign and three figures."""


class Far(Canvas):
    """Draws a `Progress` in large."""

    def __init__(self, progress: SessionProgress, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.progress = progress

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return tempo and beat, then the last stroke's side, then the words."""
        times = max(1, min(columns // DOT_COLUMNS["offset"], (rows - 6) // drawing.LETTER_DOTS))
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
        counting = progress.phase in (COUNT_IN, PLAYING) and not progress.silent
        tempo = drawing.large_letters(f"{progress.tempo:.0f}", times)
        beat = drawing.large_letters(str(progress.beat + 1) if counting else "-", times)
        ink = "strong" if progress.phase == PLAYING else "calling"
        room = columns - 2 * MARGIN - len(beat[0])
        return [
            ((" " * MARGIN, "plain"), *fit_line(((left, "strong"),), room), (right, ink))
            for left, right in zip(tempo, beat, strict=True)
        ]

    def _side(self, columns: int, times: int) -> list[Line]:
        """Return the last offset in ms: early on the left, late on the right, else the middle."""
        offset = self.progress.last_offset_s
        room = columns - 2 * MARGIN
        if offset is None:
            blank = drawing.large_letters("-", times)
            return [((" " * MARGIN + row.center(room), "faint"),) for row in blank]
        ms = f"{abs(offset) * 1000:.0f}"
        if abs(offset) <= ON_TIME_S:
            shown, ink, place = drawing.large_letters("■", times), "centre", str.center
        elif offset < 0:
            shown, ink, place = drawing.large_letters(f"◄ {ms}", times), "off", str.ljust
        else:
            shown, ink, place = drawing.large_letters(f"{ms} ►", times), "off", str.rjust
        return [((" " * MARGIN + place(row, room), ink),) for row in shown]

    def _verdict(self) -> list[Line]:
        """Return whether the last pass was clean, or the two things that were least so."""
        progress = self.progress
        if progress.clean is None:
            return []
        if progress.clean:
            return [(("  last pass clean", "centre"),)]
        first, *more = (*progress.failed, "")
        reported = [(("  not clean: ", "missed"), (first, "strong"))]
        return [*reported, *(((" " * 13 + text, "strong"),) for text in more[:1] if text)]


VERDICT_GAP = 4
LARGEST_VERDICT = 5
COUNT_DOWN_S = 0.25
LONG_REST_S = 8.0
"""A rest longer than this counts down on the screen; a breath between rungs does not."""


class Between(Canvas):
    """Draws the verdict of the rung that just ended; blank before the first one."""

    def __init__(self, progress: SessionProgress, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.progress = progress
        self._rest_began = 0.0

    @property
    def wanted(self) -> bool:
        """True in the quiet after a rung."""
        return self.progress.phase == RESTING and bool(self.progress.rungs)

    def on_mount(self) -> None:
        """Keep a clock for the count-down, which runs in a rest."""
        self._clock = self.set_interval(COUNT_DOWN_S, self._count_down, pause=True)

    def rest_began(self) -> None:
        """Note when the quiet began, to count it down."""
        self._rest_began = time.monotonic()
        self._clock.resume()

    def _count_down(self) -> None:
        if self.wanted:
            self.redraw()
        else:
            self._clock.pause()

    def draw_lines(self, columns: int, rows: int) -> Sequence[Line]:
        """Return the largest picture that fits."""
        if not self.progress.rungs:
            return ()
        for times in range(LARGEST_VERDICT, 0, -1):
            verdict_sizes = range(LARGEST_VERDICT, times - 1, -1)
            for lines in (self._at(columns, times, verdict) for verdict in verdict_sizes):
                if lines and len(lines) <= rows:
                    return lines
        return self._small(columns)

    def _at(self, columns: int, times: int, verdict: int) -> list[Line]:
        """Return the picture with verdict and next tempo in such sizes, the reason smaller.

        Nothing where a word would be cut, or the time would not fit beside the next tempo.
        """
        last, room = self.progress.rungs[-1], columns - 2 * MARGIN
        part = max(1, times // 2)
        if _across(_verdict(last), verdict) > room:
            return []
        if _across(self._next(last), times) + VERDICT_GAP + _across(self._time(), part) > room:
            return []
        ink = "centre" if last.clean else "missed"
        lines = [self._course(columns), ()]
        lines += _large([(row, ink) for row in drawing.large_letters(_verdict(last), verdict)])
        lines.append(())
        if last.failed:
            reason = drawing.wrapped_large_letters(_short(last.failed[0]), room, part)
            lines += [*_large([(row, "strong") for row in reason]), ()]
        return lines + self._ahead(last, room, times)

    def _ahead(self, last: RungEnded, room: int, times: int) -> list[Line]:
        """Return the next tempo on the left and the time on the right, smaller where need be."""
        left = drawing.large_letters(self._next(last), times)
        time_reported = self._time()
        for part in range(times, 0, -1):
            right = drawing.large_letters(time_reported, part)
            if len(left[0]) + len(right[0]) + VERDICT_GAP <= room:
                break
        right = (" " * len(right[0]),) * (len(left) - len(right)) + right
        return [
            (
                (" " * MARGIN, "plain"),
                *fit_line(((one, "strong"),), room - len(other)),
                (other, "plain"),
            )
            for one, other in zip(left, right, strict=True)
        ]

    def _small(self, columns: int) -> list[Line]:
        """Return the same in plain letters, for a window with no room."""
        last = self.progress.rungs[-1]
        ink = "centre" if last.clean else "missed"
        return [
            self._course(columns),
            ((f"  {_verdict(last)}", ink), (f"  {self._next(last)}  {self._time()}", "strong")),
            *(((f"  {printable(text)}", "strong"),) for text in last.failed),
        ]

    def _course(self, columns: int) -> Line:
        row = live_words.rung_row(self.progress.rungs, columns - 2 * MARGIN, coming=False)
        return ((" " * MARGIN, "plain"), *row)

    def _next(self, last: RungEnded) -> str:
        tempo = self.progress.next_tempo or last.next_tempo
        return "the end" if last.next_tempo is None else f"next {tempo:g}"

    def _time(self) -> str:
        """Return the rest left where it is long, else the time to the bell."""
        rest = self.progress.rest
        length = rest.until_s - rest.time_s if rest else 0.0
        if self.wanted and length > LONG_REST_S:
            left = max(0, math.ceil(length - (time.monotonic() - self._rest_began)))
            return f"rest {clock_text(left)}"
        return live_words.minutes_words(self.progress.seconds_left)


def _across(text: str, times: int) -> int:
    return len(drawing.large_letters(text, times)[0])


def _verdict(last: RungEnded) -> str:
    return "clean" if last.clean else "not clean"


def _short(reason: str) -> str:
    """Return a reason to be drawn in large; signs that have no large form say nothing there."""
    return printable(reason).replace(" of 127", "")


def _large(rows: list[tuple[str, str]]) -> list[Line]:
    return [((" " * MARGIN + text, ink),) for text, ink in rows]
