"""The helper thread that puts a session's lines into its file, and what it does if the disk fails.

The thread owns the file and a copy of the whole session; the playing loop only fills a queue. So
neither a slow sync nor a disk that hangs can ever delay a click.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import threading
import time
from collections import deque
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING

from trainer.archive import disk, format

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.archive.session import Header

SUFFIX = ".jsonl"
EVERY_S = 1.0
"""The longest a written line waits for its sync, and the shortest time between two tries."""


def file_name(header: Header, count: int = 1) -> str:
    """Return the name of a session's file: start and pattern, in characters every disk takes."""
    pattern = re.sub(r"[^A-Za-z0-9]+", "-", header.pattern.name)[:60].strip("-") or "pattern"
    again = f"-{count}" if count > 1 else ""
    return f"{header.started:%Y%m%d-%H%M%S}-{pattern}{again}{SUFFIX}"


def create(folder: Path, header: Header) -> tuple[Path, int]:
    """Return path and descriptor of a new locked file in a folder, which is made where missing."""
    folder.mkdir(parents=True, exist_ok=True)
    for count in range(1, 10_000):
        path = folder / file_name(header, count)
        with contextlib.suppress(FileExistsError):
            fd = disk.create(path)
            disk.lock(fd)
            return path, fd
    raise FileExistsError(errno.EEXIST, f"no free name in {folder}")


def save_whole(folder: Path, header: Header, whole: bytes) -> Path:
    """Write a whole session into a folder, or leave nothing there and raise OSError."""
    path, fd = create(folder, header)
    try:
        while whole:
            whole = whole[os.write(fd, whole) :]
        disk.sync(fd)
    except OSError:
        path.unlink(missing_ok=True)
        raise
    finally:
        os.close(fd)
    disk.sync_folder(folder)
    return path


class Writer:
    """One file and its thread. `put`, `sync_soon` and `news` are for the playing loop.

    `_kept` holds the whole session and `_written` counts how much of it the file has, so that after
    a failure the next try goes on exactly where the disk stopped.
    """

    def __init__(self, folder: Path, header: Header) -> None:
        self.news: deque[str] = deque()
        self.path: Path | None = None
        self._folder = folder
        self._fd: int | None = None
        self._queue: SimpleQueue[bytes] = SimpleQueue()
        self._kept = bytearray(format.header_line(header))
        self._handed = len(self._kept)
        self._written = 0
        self._failed = self._lost = self._stopping = False
        self._sync_wanted = True
        self._next_sync = self._next_try = 0.0
        try:
            self.path, self._fd = create(folder, header)
        except OSError as error:
            self._fail(error)
        self._work(last=False)
        disk.sync_folder(folder)
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    def put(self, line: bytes) -> None:
        """Hand a line over."""
        self._handed += len(line)
        self._queue.put(line)

    def whole(self, wait_s: float) -> bytes:
        """Return everything handed over so far."""
        until = time.monotonic() + wait_s
        while len(self._kept) < self._handed and time.monotonic() < until:
            time.sleep(0.001)
        if len(self._kept) < self._handed:
            self._collect(wait=False)  # the disk hangs and the thread with it
        return bytes(self._kept)

    def sync_soon(self) -> None:
        """Ask for a sync with the lines handed over so far."""
        self._sync_wanted = True
        self._queue.put(b"")

    def stop(self, wait_s: float) -> bytes | None:
        """Write all that is left and close. Return the whole session where the file lacks some."""
        self._stopping = True
        self._queue.put(b"")
        self._thread.join(wait_s)
        if self._thread.is_alive():
            # The disk hangs and the thread with it; what it has not taken yet is still queued.
            self._collect(wait=False)
        elif self._fd is not None:
            os.close(self._fd)
        return bytes(self._kept) if self._lost or self._written < len(self._kept) else None

    def discard(self) -> None:
        """Remove the file: a part of a session that was saved whole elsewhere."""
        if self.path is not None and not self._lost:
            with contextlib.suppress(OSError):
                self.path.unlink()

    def _run(self) -> None:
        last = False
        while not last:
            # Asked before collecting, so that nothing handed over before the stop is left behind.
            last = self._stopping
            self._collect(wait=not last)
            self._work(last)

    def _collect(self, *, wait: bool) -> None:
        with contextlib.suppress(Empty):
            if wait:
                self._kept += self._queue.get(timeout=EVERY_S)
            while True:
                self._kept += self._queue.get_nowait()

    def _work(self, last: bool) -> None:
        now = time.monotonic()
        if self._fd is None or self._lost or (self._failed and now < self._next_try and not last):
            return
        self._next_try = now + EVERY_S
        try:
            while self._written < len(self._kept):
                self._written += os.write(self._fd, self._kept[self._written :])
            if self._sync_wanted or last or now >= self._next_sync:
                self._sync_wanted = False
                self._next_sync = now + EVERY_S
                self._check_place()
                disk.sync(self._fd)
        except OSError as error:
            self._fail(error)

    def _check_place(self) -> None:
        """Writing to a deleted file succeeds; find out whether ours is still where it was."""
        assert self.path is not None
        assert self._fd is not None
        if not os.path.samestat(os.stat(self.path), os.fstat(self._fd)):
            raise FileNotFoundError(errno.ENOENT, "replaced")

    def _fail(self, error: OSError) -> None:
        """Remember the failure and tell it once. A file that is gone or unsure is given up."""
        self._lost = self._lost or error.errno in (errno.ENOENT, errno.EIO, errno.ENODEV)
        if not self._failed:
            self._failed = True
            self.news.append(
                f"The session cannot be written to {self._folder}: {disk.why(error)}. "
                "Playing goes on; it is kept in memory and will be saved at the end."
            )
