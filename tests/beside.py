"""Tests run side by side in several processes; one marked `alone` has the machine to itself.

Two locks, on a file and a folder that every process has: tests hold the room together, one that is
alone holds it by itself. Whoever wants in waits at the door, so nobody slips in past a test that
waits for the room to be empty.
"""

from __future__ import annotations

import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

try:
    import fcntl
except ImportError:  # Windows, where tests run one after the other
    fcntl = None  # type: ignore[assignment]

if TYPE_CHECKING:
    from collections.abc import Iterator

DOOR = Path(__file__)
ROOM = DOOR.parent


@contextmanager
def turn(*, alone: bool) -> Iterator[None]:
    """Wait for one test's turn, and hold it."""
    if fcntl is None or "PYTEST_XDIST_WORKER" not in os.environ:
        yield
        return
    room = os.open(ROOM, os.O_RDONLY)
    door = os.open(DOOR, os.O_RDONLY)
    try:
        fcntl.flock(door, fcntl.LOCK_EX)
        fcntl.flock(room, fcntl.LOCK_EX if alone else fcntl.LOCK_SH)
        fcntl.flock(door, fcntl.LOCK_UN)
        yield
    finally:
        os.close(door)
        os.close(room)
