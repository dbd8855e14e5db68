"""Sending a MIDI clock, so that a sequencer or looper outside runs with the session.

24 clocks a quarter note, start with the first beat of a pass that was counted in, stop when
playing stops. Clocks begin up to a quarter note before the start, so that the outside knows the
tempo. Times are seconds on the session's clock.
"""

from __future__ import annotations

from collections import deque
from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer.midi import midi_message
from trainer.midi.clock_in import PULSES_PER_QUARTER
from trainer.midi.connection import Connection
from trainer.midi.timing import Delays
from trainer.practice.course import seconds_per_quarter
from trainer.practice.events import Finished, PassCut, PassStarted, Paused

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern
    from trainer.practice.events import Event

NEVER = float("inf")


class PulseTrain:
    """When which clock message is due. Pure; passes are laid end to end."""

    def __init__(self) -> None:
        self.next_s = NEVER
        self._rolling = False
        self._period_s = 0.0
        self._coming: deque[tuple[float, float]] = deque()

    def lay(self, start_s: float, quarter_s: float, now_s: float) -> None:
        """Let a pass begin at `start_s` with quarters of `quarter_s` seconds."""
        period_s = quarter_s / PULSES_PER_QUARTER
        if self.next_s == NEVER:
            before = min(PULSES_PER_QUARTER, int((start_s - now_s) / period_s))
            self.next_s = start_s - before * period_s
            self._period_s = period_s
        self._coming.append((start_s, period_s))

    def stop(self) -> list[int]:
        """Forget all that was laid; return the message that informs the outside, if it rolls."""
        rolled, self._rolling = self._rolling, False
        self._coming.clear()
        self.next_s = NEVER
        return [midi_message.STOP] if rolled else []

    def due(self, now_s: float) -> list[int]:
        """Return the messages due by `now_s`, in order."""
        found = []
        while self.next_s <= now_s:
            found += self._one()
        return found

    def _one(self) -> list[int]:
        """The messages of the next clock: it opens a pass when it is where one begins."""
        messages = [midi_message.CLOCK]
        if self._coming and self.next_s > self._coming[0][0] - self._period_s / 2:
            self.next_s, self._period_s = self._coming.popleft()
            if not self._rolling:
                messages = [midi_message.START, midi_message.CLOCK]
                self._rolling = True
        self.next_s += self._period_s
        return messages


class ClockOut:
    """A MIDI clock at an output, driven by the events of a session."""

    def __init__(self, pattern: Pattern, wanted: str) -> None:
        self.pattern = pattern
        self.late = Delays()
        self.train = PulseTrain()
        self._plug = Connection("output", wanted, "clock")
        self._zero = 0.0

    @property
    def next_s(self) -> float:
        """When the next clock is due."""
        return self.train.next_s

    def open(self, zero_s: float) -> None:
        """Find the output and connect. Raises BadInput when it is not there."""
        self._zero = zero_s
        self._plug.open()

    def hear(self, event: Event, now_s: float) -> None:
        """Take in what happens in the session."""
        if isinstance(event, PassStarted):
            self.train.lay(event.start_s, seconds_per_quarter(self.pattern, event.tempo), now_s)
        elif isinstance(event, Paused | PassCut | Finished):
            self._send(self.train.stop())

    def turn(self, now_s: float) -> None:
        """Send what is due."""
        if now_s < self.train.next_s:
            return
        self.late.add(now_s - self.train.next_s)
        self._send(self.train.due(now_s))
        self._plug.watch(perf_counter())

    def quality(self) -> dict[str, Any]:
        """Return how late clocks were sent."""
        return {"clock": self._plug.name, "sent_late": self.late.to_dict()}

    def close(self) -> None:
        """Stop the outside and disconnect; closing twice is harmless."""
        self._send(self.train.stop())
        self._plug.close()

    def _send(self, messages: list[int]) -> None:
        for message in messages:
            self._plug.send([message])
