"""When a message really arrived, and how well time was kept. Pure arithmetic; all times in seconds.

A busy program reads the driver's queue late, by milliseconds; the driver stamped each message when
it came in, but reports only the time since the message before. `DriverClock` adds the differences
up and compares the sum with the times of reading: reading is never earlier than arrival, so the
lowest line under (driver time, reading minus driver time) is the offset between both clocks, and
its slope is the drift between them. The line is the edge of the lower convex hull over the middle
of the points, as Moon, Skelly and Towsley do for network delays (INFOCOM 1999; from memory). Use
one clock for each port.

What is known to go wrong, and what is done:
- The first difference is 0, and the offset is known only once some messages were read without
  delay: `settled` says so.
- macOS (python-rtmidi 1.5.8, issue 204) gives each message of a packet the packet's difference.
  An exact repeat that came in less than half of itself after the last message is one of these.
- Windows counts whole milliseconds. `resolution_s` is learnt from the differences, and a stamp is
  then in the middle of what the count and the times of reading both allow.
- A difference below 0 or without end says nothing; the clock starts again from that message.
- A difference that was lost leaves driver time behind, a computer that slept throws it either way.
  Driver time later than reading, or long before the queue was last seen empty, is impossible: the
  clock starts again from there.

`Delays` counts delays in fine bins, for the figures that a session keeps; `trusted_ms` says how
finely stamps can be trusted.
"""

from __future__ import annotations

from collections import deque
from itertools import accumulate, pairwise
from math import cos, tau
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence


FINEST_S = 0.0001
"""No stamp is trusted finer than this: waking up for a message varies by as much."""

_BIN_S = 20e-6
_BINS = 5000
"""Bins of 20 microseconds up to 100 ms; what is longer counts in the last one."""


class Delays:
    """A distribution of delays in seconds, kept in bins so that it never grows."""

    def __init__(self, delays: Iterable[float] = ()) -> None:
        self.count = 0
        self.worst_s = 0.0
        self._bins = [0] * _BINS
        for delay in delays:
            self.add(delay)

    def add(self, delay_s: float) -> None:
        """Count one delay; what is below 0 counts as 0."""
        self.count += 1
        self.worst_s = max(self.worst_s, delay_s)
        self._bins[max(0, min(_BINS - 1, int(delay_s / _BIN_S)))] += 1

    def share(self, part: float) -> float | None:
        """Return the delay in seconds that `part` (0 to 1) of all stay within, None without any."""
        if not self.count:
            return None
        upto = accumulate(self._bins)
        place = next(place for place, seen in enumerate(upto) if seen and seen >= part * self.count)
        return min((place + 1) * _BIN_S, self.worst_s)

    def to_dict(self) -> dict[str, Any]:
        """Return the figures in ms, safe for JSON: count, median, 99th percentile, worst."""
        return {
            "count": self.count,
            "median_ms": in_ms(self.share(0.5)),
            "p99_ms": in_ms(self.share(0.99)),
            "worst_ms": in_ms(self.worst_s if self.count else None),
        }


def in_ms(seconds: float | None) -> float | None:
    """Return milliseconds to the microsecond, None where nothing is known."""
    return None if seconds is None else round(seconds * 1e3, 3) + 0.0  # no -0.0


def signed_ms(seconds: float) -> str:
    """Return milliseconds with a sign, to a tenth; what rounds to nothing is `+0.0`."""
    return f"{round(seconds * 1e3, 1) + 0.0:+.1f}"


PERIODS_S = tuple(frames / rate for frames in (64, 128, 256, 512) for rate in (44100, 48000, 96000))
"""Periods a JACK server commonly runs at (common practice, no source). Longer ones, which are not
for playing, could be mistaken for the steps of a very even player."""

_FEW = 32
_SURE = 0.5
"""How alike changes must be to be believed; those of a free player, 32 or more, hardly ever are."""


def stamp_period_s(stamps: Sequence[float]) -> float:
    """Return the period in which stamps come, the longest that fits, or 0 where none does.

    A server that hands messages over once a period stamps them near whole periods apart. Steady
    playing would look alike for any period, so only what changes from one gap to the next is asked.
    """
    gaps = [b - a for a, b in pairwise(stamps)]
    changes = [b - a for a, b in pairwise(gaps)]
    return max((period for period in PERIODS_S if _alike(changes, period) > _SURE), default=0.0)


def _alike(changes: Sequence[float], period: float) -> float:
    """How much changes agree with whole periods, other than none: -1 to 1, 0 with too few."""
    found = [cos(tau * change / period) for change in changes if abs(change) > period / 2]
    return sum(found) / len(found) if len(found) >= _FEW else 0.0


def trusted_ms(step_s: float, settled: bool, read_late: Delays) -> float:
    """Return the finest time in ms that stamps can be trusted to.

    `step_s` is the coarsest step of driver and server. Before the driver's clock is known a stamp
    may be as late as its reading.
    """
    late_s = 0.0 if settled else read_late.share(0.99) or 0.0
    return round(max(step_s, late_s, FINEST_S) * 1e3, 3)


SETTLED = 8
"""Moments after which the offset counts as known."""

_WINDOW = 64
_MOMENT_S = 0.020
"""Messages closer than this are one moment: what one packet or one stall holds says one thing."""

_STRETCH_S = 2.0
_STRETCHES = 4
"""Points within a stretch count once when the drift is estimated, which takes this many of them."""

_DRIFT = 500e-6
"""Steepest drift believed. Crystals stay within 100 millionths; timers of a system can be worse."""

_JUMP_S = 0.010
"""Disagreement between both clocks that no scheduling delay explains if it comes twice running."""

_LEAP_S = 0.100
"""Disagreement that is believed at once."""

_STEPS_S = (0.010, 0.004, 0.001)
"""Counts of coarse driver clocks, coarsest first."""


class DriverClock:
    """Turns (difference, time of reading) into a stamp, message by message.

    `repeats` says that the driver repeats differences within a packet (CoreMIDI).
    """

    def __init__(self, repeats: bool = False) -> None:
        self.repeats = repeats
        self._steps = _Steps()
        self.restart()

    def restart(self) -> None:
        """Forget both clocks' relation (the port was opened again)."""
        self._driver = 0.0
        self._delta = 0.0
        self._read = float("-inf")
        self._doubts = 0
        self._line = _LowestLine()

    @property
    def settled(self) -> bool:
        """True once the offset between the clocks is known well enough to trust a stamp."""
        return len(self._line.points) >= SETTLED

    @property
    def resolution_s(self) -> float:
        """The step in which the driver counts: one of 10, 4, 1 ms, or 0 for anything finer."""
        return self._steps.size

    @property
    def drift(self) -> float:
        """Seconds a second by which the driver's clock runs slow (minus: fast)."""
        return self._line.slope

    def stamp(self, delta_s: float, read_s: float, empty_s: float = float("-inf")) -> float:
        """Return when a message arrived, never later than `read_s`, the time just after reading it.

        `delta_s` is the driver's difference to the message before; `empty_s` the last time at which
        the queue was seen empty, so that the message cannot have been in it.
        """
        broken = not 0.0 <= delta_s < float("inf")
        if not broken:
            self._driver += self._true_delta(delta_s, read_s)
        self._read = read_s
        if broken or self._jumped(read_s, empty_s):
            self._line = _LowestLine()
        self._line.add(self._driver, read_s - self._driver)
        low = self._driver + self._line.under(self._driver)
        return self._within(low, read_s, empty_s)

    def _true_delta(self, delta_s: float, read_s: float) -> float:
        """The difference, or 0 where it merely repeats the one of the packet."""
        if not delta_s:
            return 0.0
        if self.repeats and delta_s == self._delta and read_s - self._read < delta_s / 2:
            return 0.0
        self._steps.learn(delta_s)
        self._delta = delta_s
        return delta_s

    def _jumped(self, read_s: float, empty_s: float) -> bool:
        """Whether the clocks' relation broke: a stamp too late, or too early and no accident."""
        if not self._line.points:
            return False
        stamp = self._driver + self._line.under(self._driver)
        if stamp > read_s + _JUMP_S:
            return True
        behind = empty_s - stamp
        self._doubts = self._doubts + 1 if behind > _JUMP_S else 0
        if behind > _LEAP_S or self._doubts > 2:
            self._doubts = 0
            return True
        return False

    def _within(self, low: float, read_s: float, empty_s: float) -> float:
        """The stamp: on the driver's line, or the middle of what a coarse clock leaves open."""
        step = self._steps.size
        high = min(low + step, read_s)
        if not step or high <= low:
            return min(low, read_s)
        return (max(low, min(empty_s, high)) + high) / 2


class _LowestLine:
    """The line under the last points (x, y), with a slope that stays within the believable drift.

    Points come in order of x. The height comes from the lowest point of each of the last moments;
    the slope, which needs a longer look, from the lowest of each of the last stretches of time.
    """

    def __init__(self) -> None:
        self.points: deque[tuple[float, float]] = deque(maxlen=_WINDOW)
        self.far: deque[tuple[float, float]] = deque(maxlen=_WINDOW)
        self.slope = 0.0

    def add(self, x: float, y: float) -> None:
        """Take in a point at or right of all others."""
        _keep_lowest(self.points, x, y, _MOMENT_S)
        if _keep_lowest(self.far, x, y, _STRETCH_S) and len(self.far) > _STRETCHES:
            # The newest stretch has only just begun; its lowest point is still to come.
            self.slope = max(-_DRIFT, min(_DRIFT, _hull_slope(list(self.far)[:-1])))

    def under(self, x: float) -> float:
        """Return the height of the line at x (0 without points)."""
        slope = self.slope
        return min((py + slope * (x - px) for px, py in self.points), default=0.0)


def _keep_lowest(points: deque[tuple[float, float]], x: float, y: float, span: float) -> bool:
    """Add a point, or lower the last one when it is less than a span away; return whether added."""
    if points and x - points[-1][0] < span:
        if y < points[-1][1]:
            points[-1] = (points[-1][0], y)
        return False
    points.append((x, y))
    return True


def _hull_slope(points: list[tuple[float, float]]) -> float:
    """Slope of the lower convex hull's edge over the mean of x."""
    hull: list[tuple[float, float]] = []
    for point in points:
        while len(hull) > 1 and _turns_down(hull[-2], hull[-1], point):
            hull.pop()
        hull.append(point)
    middle = sum(x for x, _ in points) / len(points)
    for (x0, y0), (x1, y1) in pairwise(hull):
        if x1 >= middle:
            return (y1 - y0) / (x1 - x0)
    return 0.0


def _turns_down(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """Whether b is on or above the line from a to c."""
    return (b[1] - a[1]) * (c[0] - a[0]) >= (c[1] - a[1]) * (b[0] - a[0])


class _Steps:
    """Learns whether differences are whole multiples of a coarse step."""

    def __init__(self) -> None:
        self.count = 0
        self.whole = dict.fromkeys(_STEPS_S, 0)
        self.size = 0.0

    def learn(self, delta_s: float) -> None:
        """Take in a difference; judge again while still unsure."""
        self.count += 1
        for step in _STEPS_S:
            share = delta_s / step
            self.whole[step] += abs(share - round(share)) * step < 2e-6
        if self.count >= 16:
            fits = [step for step in _STEPS_S if self.whole[step] >= 0.95 * self.count]
            self.size = fits[0] if fits else 0.0
