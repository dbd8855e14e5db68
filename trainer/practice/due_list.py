"""The targets a follower may still meet, by time; those behind every story are forgotten."""

from __future__ import annotations

from bisect import bisect_right
from typing import NamedTuple

MOST_OPEN = 48
"""Open targets looked at for one hit: bounds the time where hundreds are due at once."""


class Due(NamedTuple):
    """What the follower needs to know of a target."""

    time_s: float
    voice: str
    limb: str | None
    level: str


class DueList:
    """Targets by their places, counted from 0 since the beginning.

    `due` and `times` hold those from `base` on: place p is at p - base. `voices` are all that any
    target ever had.
    """

    def __init__(self) -> None:
        self.base = 0
        self.due: list[Due] = []
        self.times: list[float] = []
        self.voices: set[str] = set()
        self._closed: set[int] = set()
        self._kin: dict[int, int] = {}

    @property
    def end(self) -> int:
        """The place after the last target."""
        return self.base + len(self.due)

    def add(self, due: Due, seen: int) -> int:
        """Take a target in, by time but not before the place `seen`; return its place."""
        at = max(bisect_right(self.times, due.time_s), seen - self.base)
        if at < len(self.due):
            self._kin.clear()
        self.due.insert(at, due)
        self.times.insert(at, due.time_s)
        self.voices.add(due.voice)
        return self.base + at

    def close(self, place: int) -> bool:
        """Close a target, given or missed; return whether it was closed before."""
        was = place in self._closed
        self._closed.add(place)
        return was

    def drop(self, place: int) -> None:
        """Forget the targets from a place on."""
        del self.due[place - self.base :], self.times[place - self.base :]
        self._kin.clear()
        self._closed = {one for one in self._closed if one < place}

    def forget(self, place: int) -> None:
        """Forget the targets before a place."""
        for gone in range(self.base, place):
            self._closed.discard(gone)
            self._kin.pop(gone, None)
        del self.due[: place - self.base], self.times[: place - self.base]
        self.base = place

    def kin(self, place: int, lowest: int) -> int:
        """Return the earlier targets, `lowest` and after, of the same drum or limb as one.

        Bit i is the target at place - MOST_OPEN + i. `lowest` must not fall from call to call.
        """
        found = self._kin.get(place)
        if found is None:
            found = self._kin[place] = self._kin_of(place, max(lowest, place - MOST_OPEN))
        return found

    def _kin_of(self, place: int, lowest: int) -> int:
        _, voice, limb, _ = self.due[place - self.base]
        kin, bit = 0, 1 << lowest - place + MOST_OPEN
        for other in self.due[lowest - self.base : place - self.base]:
            if other.voice == voice or (limb is not None and other.limb == limb):
                kin |= bit
            bit <<= 1
        return kin
