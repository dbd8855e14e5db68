"""The time until a session's end, as its events tell it: a ladder's bell, or a block's last pass.

Pure: it hears the events in order; times are seconds on the session's clock.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.practice import events
from trainer.practice.course import seconds_per_quarter
from trainer.screens import words

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern


class TimeLeft:
    """Counts down from `seconds` (None: no set end) once the first beat is heard.

    With `passes` the end is that of the last pass, so a pause puts it off. Without them it is a
    bell, which does not wait and which the end of each rung dates anew.
    """

    def __init__(
        self, pattern: Pattern, seconds: float | None = None, passes: int | None = None
    ) -> None:
        self.seconds = seconds
        self._pattern = pattern
        self._passes = passes if seconds is not None else None
        self._cut: set[int] = set()
        self._end_s: float | None = None

    def hear(self, event: events.Event) -> None:
        """Take one event in."""
        match event:
            case events.BeatStarted() | events.RestStarted():
                self._time_is(event.time_s)
            case events.RungEnded():
                self.seconds, self._end_s = event.seconds_left, None
            case events.PassCut():
                self._cut.add(event.pass_index)
            case events.PassStarted() if self._passes:
                self._pass_started(event, self._passes)
            case events.Paused() if self._passes:
                self._end_s = None

    def _time_is(self, now_s: float) -> None:
        """Count down to the end; where it has no date yet, the next moment heard dates it."""
        if self.seconds is None:
            return
        if self._end_s is None:
            self._end_s = now_s + self.seconds
        self.seconds = max(0.0, self._end_s - now_s)

    def _pass_started(self, event: events.PassStarted, passes: int) -> None:
        """Date the end anew: this pass and those after it, at its tempo."""
        to_play = passes + 1 - words.pass_number(event.pass_index, self._cut)
        quarter_s = seconds_per_quarter(self._pattern, event.tempo)
        self._end_s = event.start_s + to_play * float(self._pattern.length) * quarter_s
