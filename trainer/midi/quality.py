"""How well time was kept in a run: delays counted in fine bins, and the figures a session keeps."""

from __future__ import annotations

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
    return None if seconds is None else round(seconds * 1e3, 3)


PERIODS_S = tuple(frames / rate for frames in (64, 128, 256, 512) for rate in (44100, 48000, 96000))
"""Periods a JACK server commonly runs at (common practice, no source). Longer ones, which are not
for playing, could be mistaken for the steps of a very even player."""

_FEW = 32
_SURE = 0.5
"""How alike changes must be to be believed; those of a free player, 32 or more, hardly ever are."""


def period_s(stamps: Sequence[float]) -> float:
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
