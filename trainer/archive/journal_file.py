"""The file of a session that is being played: its name, its lock, its syncs, and its end.

The rules against a power cut: a new file's folder is synced once the file is there; a journal is
synced at every rung and at most every second; a whole file is only ever replaced by
`trainer.file_system`: written beside, synced and renamed, and then its folder is synced. Creating
and locking work the same on every system.

Syncs run in a thread of their own. One can take most of a second while other programs write to the
same disk; lines that come meanwhile must reach the file all the same, or a killed process would
lose them.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import sys
import threading
from enum import Enum
from queue import SimpleQueue
from typing import TYPE_CHECKING

from trainer import file_system
from trainer.archive.session import SESSION_SUFFIX

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.archive.session import SessionHeader


def create_file(path: Path) -> int:
    """Return a new file open for appending; an existing one, or a link, is an OSError."""
    flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
    return os.open(path, flags, file_system.OWN_FILE)


def open_for_fixing(path: Path) -> int:
    """Return an existing regular file open for reading and appending, never through a link."""
    flags = os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0)
    return os.open(path, flags | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))


class FileLock(Enum):
    """What a try to get a lock gave: ours, another process's, or this disk knows no locks."""

    HELD = "held"
    BUSY = "busy"
    UNKNOWN = "unknown"


def lock_file(fd: int) -> FileLock:
    """Try to lock an open file, without waiting; the lock ends with the process or the close."""
    try:
        _lock(fd)
    except OSError as error:
        busy = error.errno in (errno.EACCES, errno.EAGAIN, errno.EDEADLK)
        return FileLock.BUSY if busy else FileLock.UNKNOWN
    return FileLock.HELD


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


def session_file_name(header: SessionHeader, count: int = 1) -> str:
    """Return the name of a session's file: start and pattern, in characters every disk takes."""
    pattern = re.sub(r"[^A-Za-z0-9]+", "-", header.pattern.name)[:60].strip("-") or "pattern"
    again = f"-{count}" if count > 1 else ""
    return f"{header.started:%Y%m%d-%H%M%S}-{pattern}{again}{SESSION_SUFFIX}"


class JournalFile:
    """A new file in a folder, which is made where it is missing; raises OSError where it cannot be.

    It is locked until it is closed, so that no other start takes it for a session that was cut off.
    """

    def __init__(self, folder: Path, header: SessionHeader) -> None:
        file_system.make_own_folder(folder)
        self.path, self._fd = _create_journal(folder, header)
        lock_file(self._fd)
        file_system.sync_folder(folder)
        self._failure: OSError | None = None
        self._closed = False
        self._asked: SimpleQueue[bool] = SimpleQueue()
        self._thread = threading.Thread(target=self._run, name="journal sync", daemon=True)
        self._thread.start()

    def write(self, data: bytes) -> int:
        """Append as much as the disk takes and return how many bytes that was."""
        return os.write(self._fd, data)

    def sync_soon(self) -> None:
        """Have what was written so far synced, without waiting; raises what went wrong before.

        Writing to a deleted file succeeds, so this also finds out whether ours is where it was.
        """
        if self._failure is not None:
            raise self._failure
        if not os.path.samestat(os.stat(self.path), os.fstat(self._fd)):
            raise FileNotFoundError(errno.ENOENT, "replaced by another file")
        self._asked.put(True)

    def close(self, wait_s: float) -> None:
        """Sync and close; raises OSError where the disk fails or does not answer in time.

        Closing again does nothing.
        """
        if self._closed:
            return
        self._closed = True
        self._asked.put(True)
        self._asked.put(False)
        self._thread.join(wait_s)
        if self._thread.is_alive():
            raise OSError(errno.EIO, "no answer")
        os.close(self._fd)
        if self._failure is not None:
            raise self._failure

    def remove(self) -> None:
        """Delete the file, a part of a session that was saved whole elsewhere."""
        with contextlib.suppress(OSError):
            self.path.unlink()

    def _run(self) -> None:
        while self._asked.get():
            try:
                file_system.sync_file(self._fd)
            except OSError as error:
                self._failure = self._failure or error


def _create_journal(folder: Path, header: SessionHeader) -> tuple[Path, int]:
    for count in range(1, 10_000):
        path = folder / session_file_name(header, count)
        with contextlib.suppress(FileExistsError):
            return path, create_file(path)
    raise FileExistsError(errno.EEXIST, f"no free name in {folder}")


def save_whole_session(folder: Path, header: SessionHeader, whole: bytes, wait_s: float) -> Path:
    """Write a whole session into a folder, or leave nothing there and raise OSError."""
    file = JournalFile(folder, header)
    try:
        while whole:
            whole = whole[file.write(whole) :]
        file.close(wait_s)
    except OSError:
        file.remove()
        with contextlib.suppress(OSError):
            file.close(wait_s)
        raise
    return file.path
