"""Following a MIDI clock from outside: where its song is, its tempo, when a beat falls.

MIDI sends 24 clocks a quarter note, start, stop, continue, and the song position in sixteenths (6
clocks). A single clock is some milliseconds early or late, so position and tempo come from a
straight line through the last several beats of them. `ClockFollower` is pure: messages and times
go in. Times are seconds, beats are quarter notes from the song's start.

`FollowingSource` reads a source of hits and the port of the clock in one call. The outside decides
when playing continues: `wishes` returns a pause when its song stops, and a resume when it runs and
its tempo is known.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise
from statistics import median
from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer.midi import midi_message
from trainer.midi.connection import Connection
from trainer.midi.timing import DriverClock
from trainer.practice.events import Command

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.midi.hit_source import HitSource, SourceEvent
    from trainer.midi.midi_message import Message
    from trainer.practice.course import Target


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


class FollowingSource:
    """Hits of another source, and the MIDI clock of a port in `follower`."""

    def __init__(self, source: HitSource, wanted: str) -> None:
        self.source = source
        self.follower = ClockFollower()
        self._plug = Connection("input", wanted, "clock")
        self._clock = DriverClock()
        self._zero = self._empty = 0.0
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
        """What is wrong with the maker of hits, in words, where it says so."""
        return str(getattr(self.source, "trouble", ""))

    @property
    def resolution_ms(self) -> float | None:
        """The finest time that the hits can be trusted to, where the source knows."""
        return getattr(self.source, "resolution_ms", None)

    def open(self, zero_s: float) -> None:
        """Open both. Raises BadInput when either is not there."""
        self._zero = zero_s
        self.source.open(zero_s)
        try:
            self._plug.open()
        except BaseException:
            self.source.close()
            raise
        self._empty = perf_counter()

    def expect(self, targets: Sequence[Target]) -> None:
        """Pass on what will be due."""
        self.source.expect(targets)

    def press(self, key: str, now_s: float) -> bool:
        """Pass on a computer key, where keys are the pads."""
        press = getattr(self.source, "press", None)
        return bool(press and press(key, now_s))

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return the hits since the last call; hear the clock meanwhile."""
        self._hear()
        runs = self.follower.running(now_s)
        if runs is not self._runs:
            self._runs = runs
            stopped = Command("pause", text="the outside clock has stopped")
            self._wishes.append(Command("resume") if runs else stopped)
        return self.source.poll(now_s)

    def wishes(self) -> list[Command]:
        """Return what the outside has requested since the last call."""
        wishes, self._wishes = self._wishes, []
        return wishes

    def quality(self) -> dict[str, Any]:
        """Return the source's figures, and the tempo outside."""
        tempo = self.follower.tempo
        clock = {"port": self._plug.name, "tempo": tempo and round(tempo, 3)}
        return {**self.source.quality(), "outside_clock": clock}

    def close(self) -> None:
        """Close both; closing twice is harmless."""
        self._plug.close()
        self.source.close()

    def _hear(self) -> None:
        while got := self._plug.receive():
            stamp = self._clock.stamp(got[1], perf_counter(), self._empty)
            for message in midi_message.split_messages(got[0]):
                self.follower.hear(message, stamp - self._zero)
        self._empty = perf_counter()
        if self._plug.watch(self._empty):
            self._clock.restart()
