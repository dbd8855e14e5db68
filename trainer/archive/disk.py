"""What a journal asks of the disk: create and lock, the same on every system.

The rules against a power cut: a new file's folder is synced once the file is there; a journal is
synced at every rung and at most every second; a whole file is only ever replaced by
`trainer.plain_file`: written beside, synced and renamed, and then its folder is synced.
"""

from __future__ import annotations

import errno
import os
import sys
from enum import Enum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path


def create(path: Path) -> int:
    """Return a new file open for appending; an existing one, or a link, is an OSError."""
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
    return os.open(path, flags, 0o644)


def open_for_mending(path: Path) -> int:
    """Return an existing regular file open for reading and appending, never through a link."""
    flags = os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0)
    return os.open(path, flags | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))


class Lock(Enum):
    """What asking for a lock gave: ours, another process's, or this disk knows no locks."""

    HELD = "held"
    BUSY = "busy"
    UNKNOWN = "unknown"


def lock(fd: int) -> Lock:
    """Ask for the lock of an open file, without waiting; it ends with the process or the close."""
    try:
        _lock(fd)
    except OSError as error:
        busy = error.errno in (errno.EACCES, errno.EAGAIN, errno.EDEADLK)
        return Lock.BUSY if busy else Lock.UNKNOWN
    return Lock.HELD


if sys.platform == "win32":
    import msvcrt

    def _lock(fd: int) -> None:
        # Windows keeps others from reading a locked byte, so one far behind the end is locked.
        os.lseek(fd, 2**31 - 2, os.SEEK_SET)
        msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _lock(fd: int) -> None:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
