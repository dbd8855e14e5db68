"""How well time was kept in a run: delays counted in fine bins, and the figures a session keeps."""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

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
