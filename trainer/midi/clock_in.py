"""Following an outside MIDI clock: where its song stands, how fast it goes, when a beat falls.

MIDI sends 24 clocks a quarter note, start, stop, continue, and the song position in sixteenths (6
clocks). A single clock is some milliseconds early or late, so position and tempo come from a
straight line through the last several beats of them. Pure: messages and times go in. Times are
seconds, beats are quarter notes from the song's start.
"""

from __future__ import annotations

from collections import deque
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING

from trainer.midi import wire

if TYPE_CHECKING:
    from trainer.midi.wire import Message

PULSES = 24
"""Clocks a quarter note (MIDI 1.0)."""

_SIXTEENTH = 6
_WINDOW = 96
"""Clocks the line goes through: four beats."""

_ENOUGH = 24
"""Clocks before a tempo is told: one beat."""

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
    """Hears the messages of one port and knows the outside song."""

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
        if status == wire.CLOCK:
            self._clock(time_s)
        elif status == wire.START:
            self._jump(0)
            self.rolling = True
        elif status == wire.CONTINUE:
            self.rolling = True
        elif status == wire.STOP:
            self.rolling = False
        elif status == wire.SONG_POSITION and not self.rolling:
            self._jump(_SIXTEENTH * (message[1] | message[2] << 7))

    @property
    def tempo(self) -> float | None:
        """Quarter notes a minute, None while too little was heard."""
        line = self._line()
        return 60.0 / (line[1] * PULSES) if line else None

    def running(self, now_s: float) -> bool:
        """Tell whether the song goes on, at a tempo that is known well enough to play to."""
        heard = bool(self._heard) and now_s - self._heard[-1][1] < _SILENCE_S
        return self.rolling and heard and self._count >= _STEADY

    def beat_at(self, time_s: float) -> float | None:
        """Return the beat the song is at, None while the tempo is not known."""
        line = self._line()
        return (time_s - line[0]) / (line[1] * PULSES) if line else None

    def time_of(self, beat: float) -> float | None:
        """Return when a beat falls or fell, None while the tempo is not known."""
        line = self._line()
        return line[0] + beat * PULSES * line[1] if line else None

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
        """How many clocks were lost before this one, as far as the line tells."""
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
        """No clock was lost after all: the tempo is much slower. Count the latest anew."""
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
        """Go to a place in the song: the next clock stands there. The tempo is kept.

        Earlier clocks are counted as those that would have led there.
        """
        shift = pulse - (self._pulse + 1)
        self._heard = deque(((p + shift, t) for p, t in self._heard), _WINDOW)
        self._pulse = pulse
        self._pending = True

    def _line(self) -> tuple[float, float] | None:
        """The time of pulse 0 and the seconds a pulse, by least squares."""
        return _fit(list(self._heard)) if len(self._heard) >= self._enough else None

    def _changed(self) -> bool:
        """Whether the latest clocks come at another tempo than the line's."""
        if len(self._heard) < 2 * _ENOUGH:
            return False
        heard = list(self._heard)
        latest, earlier = _fit(heard[-_ENOUGH:])[1], _fit(heard[:-_ENOUGH])[1]
        return abs(latest / earlier - 1) > _CHANGE


def _fit(points: list[tuple[int, float]]) -> tuple[float, float]:
    """Least squares through (pulse, time): the time at pulse 0, and the slope."""
    count = len(points)
    mean_p = sum(p for p, _ in points) / count
    mean_t = sum(t for _, t in points) / count
    spread = sum((p - mean_p) ** 2 for p, _ in points)
    slope = sum((p - mean_p) * (t - mean_t) for p, t in points) / spread
    return mean_t - slope * mean_p, slope
