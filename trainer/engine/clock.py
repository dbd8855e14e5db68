"""The session's clock: real, or simulated for tests and `--fast`. The loop is the same for both.

Second 0 is the moment the clock was made. A real clock follows `time.perf_counter`; `lost_s`
reports the time the machine spent asleep, since that counter may stop meanwhile.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

POLL_S = 0.001
"""How often at least the kit is listened to."""

STALL_S = 0.25
"""A turn of the loop that takes this much longer than it should is a stall."""

IDLE_S = 1.0
"""The longest jump of simulated time: somebody may request something meanwhile."""

_SPIN_S = 0.000_2
"""The last stretch before something is due is not slept, because sleep ends late."""

PRIORITY = 4
"""The real-time priority (Linux) of the engine: below a JACK server and its clients, which have 10
and 5 by default (manual of jackd, from memory)."""


class Clock(Protocol):
    """Time for the loop, in seconds on the session's clock."""

    zero_s: float
    """`time.perf_counter()` at second 0."""

    def now(self) -> float:
        """Return the second it is."""
        ...

    def wait_until(self, due_s: float) -> None:
        """Return when `due_s` has come, or earlier to let the loop listen."""
        ...

    def lost_s(self) -> float:
        """Return how long the loop was held up in the last turn, 0 for not worth reporting."""
        ...


class RealClock:
    """The machine's own time."""

    def __init__(self) -> None:
        self.zero_s = time.perf_counter()
        self._asleep_s = _asleep_s()
        self._turn_s = 0.0
        self._lost_s = 0.0

    def now(self) -> float:
        """Return the seconds since the clock was made."""
        return time.perf_counter() - self.zero_s

    def wait_until(self, due_s: float) -> None:
        """Sleep to `due_s` but no longer than POLL_S; wake at a due time to a few microseconds."""
        now = self.now()
        left = due_s - now
        if left > _SPIN_S:
            time.sleep(min(POLL_S, left - _SPIN_S))
        elif left > 0:
            while self.now() < due_s:
                pass
        woke = self.now()
        self._note_turn(woke)

    def _note_turn(self, woke: float) -> None:
        asleep_s = _asleep_s()
        held_s = woke - self._turn_s + asleep_s - self._asleep_s if self._turn_s else 0.0
        self._turn_s, self._asleep_s = woke, asleep_s
        if held_s > STALL_S:
            self._lost_s = held_s

    def lost_s(self) -> float:
        """Return the length of a stall or a sleep of the machine in the last turn."""
        lost_s, self._lost_s = self._lost_s, 0.0
        return lost_s


class SimulatedClock:
    """Time that jumps to whatever is due next, of the session or of the simulated player."""

    def __init__(self, next_strike: Callable[[], float]) -> None:
        self.zero_s = 0.0
        self._now = 0.0
        self._next_strike = next_strike

    def now(self) -> float:
        """Return the second it is."""
        return self._now

    def wait_until(self, due_s: float) -> None:
        """Jump to `due_s`, or to the next strike where that comes first."""
        self._now = max(self._now, min(due_s, self._next_strike(), self._now + IDLE_S))

    def lost_s(self) -> float:
        """Simulated time is never lost."""
        return 0.0


@contextlib.contextmanager
def ahead_of_others() -> Iterator[bool]:
    """Have all threads of this process woken before other programs; True where it is permitted.

    Linux alone knows how, and only some users may: often the group audio (common practice). It is
    for all threads, since one that waits its turn may keep the interpreter from the others. With
    `TRAINER_PRIORITY=usual` nothing is changed: a MIDI server without such a right is not held up.
    """
    wanted = sys.platform == "linux" and os.environ.get("TRAINER_PRIORITY") != "usual"
    raised = wanted and _schedule(os.SCHED_OTHER, os.SCHED_FIFO, PRIORITY)
    try:
        yield raised
    finally:
        if raised:
            _schedule(os.SCHED_FIFO, os.SCHED_OTHER, 0)


def _schedule(before: int, policy: int, priority: int) -> bool:
    """Give the threads of one way of scheduling another; return whether any may have it."""
    done = False
    for thread in map(int, os.listdir("/proc/self/task")):
        with contextlib.suppress(OSError):  # refused, or the thread has just ended
            if os.sched_getscheduler(thread) == before:
                os.sched_setscheduler(thread, policy, os.sched_param(priority))
                done = True
    return done


def _asleep_s() -> float:
    """Return how long the machine slept since it started, as far as perf_counter leaves it out."""
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME) - time.clock_gettime(time.CLOCK_MONOTONIC)
    if sys.platform == "darwin":
        # There CLOCK_MONOTONIC continues in sleep, and perf_counter does not.
        return time.clock_gettime(time.CLOCK_MONOTONIC) - time.perf_counter()
    return 0.0
