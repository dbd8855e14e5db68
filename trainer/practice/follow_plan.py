"""The tempo plan of a session that follows an outside clock: its tempo, and its bar lines.

A pass begins on a bar line of the outside song, after the count-in, and the passes that follow it
are laid on the outside's beats one by one, so that small errors of tempo never add up.
"""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from typing import TYPE_CHECKING, Protocol

from trainer.practice.course import MAX_TEMPO, MIN_TEMPO
from trainer.practice.plan import Step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.model import Pattern
    from trainer.practice.events import Event
    from trainer.practice.plan import PassResult

AHEAD_S = 0.35
"""The least time before a count-in begins, so that it can be clicked in full."""


class OutsideClock(Protocol):
    """What is known of an outside song. Beats are quarter notes from its start."""

    @property
    def tempo(self) -> float | None:
        """Quarter notes a minute, None while not known."""
        ...

    def beat_at(self, time_s: float) -> float | None:
        """Return the beat the song is at."""
        ...

    def time_of(self, beat: float) -> float | None:
        """Return when a beat falls."""
        ...


class FollowPlan:
    """The pattern `passes` times (None: until stopped), on the bars of an outside clock."""

    def __init__(
        self,
        pattern: Pattern,
        clock: OutsideClock,
        tempo: float,
        passes: int | None = None,
        count_in_bars: int = 1,
    ) -> None:
        self.pattern, self.clock = pattern, clock
        self.tempo, self.left, self.count_in_bars = tempo, passes, count_in_bars
        self._ends_on: float | None = None

    def follows(self, now_s: float) -> Step | None:
        """Return one more pass, on the beat the running one ends on."""
        if not self._take_one():
            return None
        begins_on, self._ends_on = self._ends_on, self._after(self._ends_on)
        at_s = None if begins_on is None else self.clock.time_of(begins_on)
        return Step(self._tempo(), at_s=at_s)

    def next(self, now_s: float) -> Step | None:
        """Return the first pass, on a bar line with room for the count-in."""
        return self._on_a_bar(Step(self.tempo), now_s) if self._take_one() else None

    def passed(self, result: PassResult, now_s: float) -> Sequence[Event]:
        """Nothing depends on how a pass went."""
        return ()

    def again(self, step: Step, now_s: float) -> Step:
        """Return a pass that was cut off, on a bar line to come."""
        return self._on_a_bar(step, now_s)

    def nudge(self, bpm: float) -> float:
        """Return the tempo, which is the outside's to change."""
        return self._tempo()

    def _take_one(self) -> bool:
        if self.left is None:
            return True
        self.left -= 1
        return self.left >= 0

    def _on_a_bar(self, step: Step, now_s: float) -> Step:
        bar = float(self.pattern.meter.length)
        begins_on = at_s = None
        beat = self.clock.beat_at(now_s + AHEAD_S)
        if beat is not None:
            begins_on = (max(0, ceil(beat / bar)) + self.count_in_bars) * bar
            at_s = self.clock.time_of(begins_on)
        self._ends_on = self._after(begins_on)
        return replace(
            step, tempo=self._tempo(), count_in_bars=self.count_in_bars, rest_s=0.0, at_s=at_s
        )

    def _after(self, beat: float | None) -> float | None:
        """The beat a pass that begins on `beat` ends on."""
        return None if beat is None else beat + float(self.pattern.length)

    def _tempo(self) -> float:
        """The outside's tempo in the pattern's own unit; the last one known while there is none."""
        quarters = self.clock.tempo
        if quarters is not None:
            own = quarters / float(self.pattern.tempo_unit)
            self.tempo = min(MAX_TEMPO, max(MIN_TEMPO, own))
        return self.tempo
