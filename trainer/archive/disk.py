"""What the archive asks of the disk: create, lock, sync and replace, the same on every system.

The rules against a power cut: a new file's folder is synced once the file is there; a journal is
synced at every rung and at most every second; a whole file is only ever replaced by writing it
beside, syncing it and renaming it, and then its folder is synced.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import tempfile
from enum import Enum
from pathlib import Path

_REASONS = {
    errno.ENOSPC: "the disk is full",
    errno.EDQUOT: "the disk quota is used up",
    errno.EFBIG: "the file may not grow any further",
    errno.EROFS: "the disk is read-only",
    errno.EACCES: "writing there is not allowed",
    errno.EPERM: "writing there is not allowed",
    errno.ENOENT: "the folder is gone",
    errno.ENOTDIR: "the folder is no folder",
    errno.EIO: "the disk does not answer",
}


def why(error: OSError) -> str:
    """Return in plain words why the disk refused."""
    return _REASONS.get(error.errno or 0) or (error.strerror or "the disk refused").lower()


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


def sync(fd: int) -> None:
    """Have the disk itself keep what was written."""
    if sys.platform == "darwin":
        # fsync alone leaves the data in the drive's own cache there.
        with contextlib.suppress(OSError):
            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
            return
    os.fsync(fd)


def sync_folder(folder: Path) -> None:
    """Have the disk keep the folder's list of names, where the system knows how."""
    with contextlib.suppress(OSError):
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def replace(path: Path, data: bytes) -> None:
    """Put a whole file in place at once: after a crash it is the old one or the new one."""
    fd, beside = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
    try:
        with os.fdopen(fd, "wb") as file:
            file.write(data)
            file.flush()
            sync(file.fileno())
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
    sync_folder(path.parent)
