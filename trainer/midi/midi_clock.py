"""The MIDI clock: following one from outside, and sending one.

MIDI sends 24 clocks a quarter note, start, stop, continue, and the song position in sixteenths (6
clocks). A single clock is some milliseconds early or late, so position and tempo come from a
straight line through the last several beats of them. `ClockFollower` is pure: messages and times
go in. Times are seconds, beats are quarter notes from the song's start.

`FollowingSource` reads a source of hits and the port of the clock in one call. The outside decides
when playing continues: `wishes` returns a pause when its song stops, and a resume when it runs and
its tempo is known.

Sending a MIDI clock, so that a sequencer or looper outside runs with the session.

24 clocks a quarter note, start with the first beat of a pass that was counted in, stop when
playing stops. Clocks begin up to a quarter note before the start, so that the outside knows the
tempo. Times are seconds on the session's clock.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise
from math import ceil
from statistics import median
from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer.midi import midi_message
from trainer.midi.connection import Connection, StampedInput
from trainer.midi.hit_source import HitSource
from trainer.midi.timing import Delays
from trainer.pattern.as_played import played_places
from trainer.practice.course import seconds_per_quarter
from trainer.practice.events import Command, Finished, PassCut, PassStarted, Paused

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.midi.hit_source import SourceEvent
    from trainer.midi.midi_message import Message
    from trainer.pattern.model import Pattern
    from trainer.practice.course import Target
    from trainer.practice.events import Event


PULSES_PER_QUARTER = 24
"""Clocks a quarter note (MIDI 1.0)."""

_SIXTEENTH = 6
_WINDOW = 96
"""Clocks the line goes through: four beats."""

_ENOUGH = 24
"""Clocks before a tempo is reported: one beat."""

_STEADY = 72
"""Clocks before a tempo is played to: three beats."""

_CHANGE = 0.05
"""A change of tempo is believed when the last beat's clocks differ by this share from the line."""

_FIRST = 6
"""Clocks before a lost one can be noticed."""

_NEW = 8
"""Clocks that are kept when the tempo has changed: most of them have the new one."""

_SLOWER = 12
"""Clocks in a row that seem to miss others before them, until a much slower tempo is believed."""

_SILENCE_S = 1.0
"""Without a clock for so long the outside is gone: 20 BPM has one every 0.125 seconds."""


class ClockFollower:
    """Takes in the messages of one port and knows the outside song."""

    def __init__(self) -> None:
        self.rolling = False
        self._pulse = 0
        self._pending = True
        self._heard: deque[tuple[int, float]] = deque(maxlen=_WINDOW)
        self._missing: deque[int] = deque(maxlen=_SLOWER)
        self._enough = _ENOUGH
        self._count = 0

    def hear(self, message: Message, time_s: float) -> None:
        """Take in one message; those that are not about the clock mean nothing."""
        status = message[0]
        if status == midi_message.CLOCK:
            self._clock(time_s)
        elif status == midi_message.START:
            self._jump(0)
            self.rolling = True
        elif status == midi_message.CONTINUE:
            self.rolling = True
        elif status == midi_message.STOP:
            self.rolling = False
        elif status == midi_message.SONG_POSITION and not self.rolling:
            self._jump(_SIXTEENTH * (message[1] | message[2] << 7))

    @property
    def tempo(self) -> float | None:
        """Quarter notes a minute, None while too little was heard."""
        line = self._line()
        return 60.0 / (line[1] * PULSES_PER_QUARTER) if line else None

    def running(self, now_s: float) -> bool:
        """Return whether the song continues, at a tempo that is known well enough to play to."""
        heard = bool(self._heard) and now_s - self._heard[-1][1] < _SILENCE_S
        return self.rolling and heard and self._count >= _STEADY

    def beat_at(self, time_s: float) -> float | None:
        """Return the beat the song is at, None while the tempo is not known."""
        line = self._line()
        return (time_s - line[0]) / (line[1] * PULSES_PER_QUARTER) if line else None

    def time_of(self, beat: float) -> float | None:
        """Return when a beat falls or fell, None while the tempo is not known."""
        line = self._line()
        return line[0] + beat * PULSES_PER_QUARTER * line[1] if line else None

    def _clock(self, time_s: float) -> None:
        """Count a clock, and those that were lost before it."""
        missing = 0 if self._pending else self._skipped(time_s)
        self._pulse += 0 if self._pending else 1 + missing
        self._pending = False
        self._count += 1
        self._heard.append((self._pulse, time_s))
        self._missing.append(missing)
        if len(self._missing) == _SLOWER and all(self._missing):
            self._slow_down()
        elif self._changed():
            self._keep_latest(_NEW)

    def _skipped(self, time_s: float) -> int:
        """How many clocks were lost before this one, as far as the line shows."""
        period = self._period()
        gap = time_s - self._heard[-1][1] if self._heard else 0.0
        if not period or gap > _SILENCE_S:
            return 0
        return max(0, round(gap / period) - 1)

    def _period(self) -> float | None:
        """Seconds from clock to clock: the line's, before it is known the median."""
        line = self._line()
        if line:
            return line[1]
        times = [time for _, time in self._heard]
        return median(b - a for a, b in pairwise(times)) if len(times) >= _FIRST else None

    def _slow_down(self) -> None:
        """No clock was lost after all: the tempo is much slower. Count the latest again."""
        self._pulse -= sum(self._missing)
        self._missing.clear()
        self._keep_latest(_SLOWER)
        first = self._pulse - len(self._heard) + 1
        self._heard = deque(((first + i, t) for i, (_, t) in enumerate(self._heard)), _WINDOW)

    def _keep_latest(self, count: int) -> None:
        """Forget what was heard before the last clocks; these are enough for a line."""
        self._heard = deque(list(self._heard)[-count:], _WINDOW)
        self._enough = count

    def _jump(self, pulse: int) -> None:
        """Go to a place in the song: the next clock is there. The tempo is kept.

        Earlier clocks are counted as those that would have led there.
        """
        shift = pulse - (self._pulse + 1)
        self._heard = deque(((p + shift, t) for p, t in self._heard), _WINDOW)
        self._pulse = pulse
        self._pending = True

    def _line(self) -> tuple[float, float] | None:
        """The time of pulse 0 and the seconds a pulse, by least squares."""
        return _fit_line(list(self._heard)) if len(self._heard) >= self._enough else None

    def _changed(self) -> bool:
        """Whether the latest clocks come at another tempo than the line's."""
        if len(self._heard) < 2 * _ENOUGH:
            return False
        heard = list(self._heard)
        latest, earlier = _fit_line(heard[-_ENOUGH:])[1], _fit_line(heard[:-_ENOUGH])[1]
        return abs(latest / earlier - 1) > _CHANGE


def _fit_line(points: list[tuple[int, float]]) -> tuple[float, float]:
    """Least squares through (pulse, time): the time at pulse 0, and the slope."""
    count = len(points)
    mean_p = sum(p for p, _ in points) / count
    mean_t = sum(t for _, t in points) / count
    spread = sum((p - mean_p) ** 2 for p, _ in points)
    slope = sum((p - mean_p) * (t - mean_t) for p, t in points) / spread
    return mean_t - slope * mean_p, slope


class FollowingSource(HitSource):
    """Hits of another source, and the MIDI clock of a port in `follower`."""

    def __init__(self, source: HitSource, wanted: str) -> None:
        self.source = source
        self.follower = ClockFollower()
        self._plug = StampedInput(wanted, "clock")
        self._runs: bool | None = None
        self._wishes: list[Command] = []

    @property
    def name(self) -> str:
        """The maker of hits."""
        return self.source.name

    @property
    def lost(self) -> bool:
        """True while the maker of hits is gone. A clock that is gone has stopped."""
        return self.source.lost

    @property
    def trouble(self) -> str:
        """What is wrong with the maker of hits, in words."""
        return self.source.trouble

    @property
    def resolution_ms(self) -> float | None:
        """The finest time that the hits can be trusted to, where the source knows."""
        return self.source.resolution_ms

    def open(self, zero_s: float) -> None:
        """Open both. Raises BadInput when either is not there."""
        self.source.open(zero_s)
        try:
            self._plug.listen(zero_s)
        except BaseException:
            self.source.close()
            raise

    def expect(self, targets: Sequence[Target]) -> None:
        """Pass on what will be due."""
        self.source.expect(targets)

    def press(self, key: str, now_s: float) -> bool:
        """Pass on a computer key, where keys are the pads."""
        return self.source.press(key, now_s)

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return the hits since the last call; hear the clock meanwhile."""
        for message, time_s in self._plug.read():
            self.follower.hear(message, time_s)
        runs = self.follower.running(now_s)
        if runs is not self._runs:
            self._runs = runs
            stopped = Command("pause", text="the outside clock has stopped")
            self._wishes.append(Command("resume") if runs else stopped)
        return self.source.poll(now_s)

    def news(self) -> list[str]:
        """Pass on what the source has to say."""
        return self.source.news()

    def wishes(self) -> list[Command]:
        """Return what the outside has requested since the last call."""
        wishes, self._wishes = self._wishes, []
        return [*self.source.wishes(), *wishes]

    def quality(self) -> dict[str, Any]:
        """Return the source's figures, and the tempo outside."""
        tempo = self.follower.tempo
        clock = {"port": self._plug.name, "tempo": tempo and round(tempo, 3)}
        return {**self.source.quality(), "outside_clock": clock}

    def close(self) -> None:
        """Close both; closing twice is harmless."""
        self._plug.close()
        self.source.close()


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
        """Forget all passes to come; return the message that stops the outside, if it runs."""
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


def _quarters(pattern: Pattern) -> list[tuple[float, float]]:
    """Return where quarters are played and how long they last, in quarters of the own tempo.

    Without changes of tempo all are as long as the first, which alone is returned.
    """
    if not pattern.tempo_changes:
        return [(0.0, 1.0)]
    at = played_places(pattern).in_tempo
    edges = [at(float(quarter)) for quarter in range(ceil(pattern.length) + 1)]
    return [(start, end - start) for start, end in pairwise(edges)]


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
            quarter_s = seconds_per_quarter(self.pattern, event.tempo)
            for start, length in _quarters(self.pattern):
                self.train.lay(event.start_s + start * quarter_s, length * quarter_s, now_s)
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
