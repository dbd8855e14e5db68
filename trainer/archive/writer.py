"""The helper thread that puts a session's lines into its file, and what it does if the disk fails.

The thread owns the file and a copy of the whole session; the playing loop only fills a queue. So
neither a slow sync nor a disk that hangs can ever delay a click.
"""

from __future__ import annotations

import contextlib
import errno
import threading
import time
from collections import deque
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING

from trainer import plain_file
from trainer.archive import format
from trainer.archive.journal_file import JournalFile

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.archive.session import Header

EVERY_S = 1.0
"""The longest a written line waits for its sync, and the shortest time between two tries."""

GATHER_S = 0.005
"""Lines that follow each other within this time are written together."""

_GONE = (errno.ENOENT, errno.EIO, errno.ENODEV)
"""Failures after which nothing that was written to the file can be relied on."""


class Writer:
    """One file and its thread. `put`, `sync_soon` and `news` are for the playing loop.

    `_kept` holds the whole session and `_written` counts how much of it the file has, so that after
    a failure the next try goes on exactly where the disk stopped. `_given_up` is True once the file
    is gone or unsure.
    """

    def __init__(self, folder: Path, header: Header) -> None:
        self.news: deque[str] = deque()
        self._folder = folder
        self._file: JournalFile | None = None
        self._queue: SimpleQueue[bytes] = SimpleQueue()
        self._kept = bytearray(format.header_line(header))
        self._handed = len(self._kept)
        self._written = 0
        self._failed = self._given_up = self._stopping = False
        self._sync_wanted = True
        self._next_sync = self._next_try = 0.0
        try:
            self._file = JournalFile(folder, header)
        except OSError as error:
            self._fail(error)
        self._work()
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    @property
    def path(self) -> Path | None:
        """Where the session is being written, None where no file could be made."""
        return self._file.path if self._file else None

    @property
    def hangs(self) -> bool:
        """True after `stop` when the disk has still not answered."""
        return self._stopping and self._thread.is_alive()

    def put(self, line: bytes) -> None:
        """Hand a line over."""
        self._handed += len(line)
        self._queue.put(line)

    def sync_soon(self) -> None:
        """Ask for a sync with the lines handed over so far."""
        self._sync_wanted = True
        self._queue.put(b"")

    def whole(self, wait_s: float) -> bytes:
        """Return everything handed over so far."""
        until = time.monotonic() + wait_s
        while len(self._kept) < self._handed and time.monotonic() < until:
            time.sleep(0.001)
        if len(self._kept) < self._handed:
            self._collect()  # the disk hangs and the thread with it
        return bytes(self._kept)

    def stop(self, wait_s: float) -> bytes | None:
        """Write all that is left and close. Return the whole session where the file lacks some."""
        self._stopping = True
        self._queue.put(b"")
        self._thread.join(wait_s)
        if self.hangs:
            return self.whole(0.0)
        try:
            if self._file:
                self._file.close(wait_s)
        except OSError as error:
            self._fail(error)
            self._given_up = True
        complete = self._file and not self._given_up and self._written == len(self._kept)
        return None if complete else bytes(self._kept)

    def discard(self) -> None:
        """Remove the file: a part of a session that was saved whole elsewhere."""
        if self._file and not self._given_up:
            self._file.remove()

    def _run(self) -> None:
        last = False
        while not last:
            # Asked before collecting, so that nothing handed over before the stop is left behind.
            last = self._stopping
            if not last:
                self._wait()
            self._collect()
            self._work(last=last)

    def _wait(self) -> None:
        with contextlib.suppress(Empty):
            self._kept += self._queue.get(timeout=EVERY_S)
            # Asleep it is not woken by every line of a flood, which would hold up the playing loop.
            time.sleep(GATHER_S)

    def _collect(self) -> None:
        for _ in range(self._queue.qsize()):
            self._kept += self._queue.get_nowait()

    def _work(self, *, last: bool = False) -> None:
        """Write what the file lacks, and have it synced when that is due."""
        now = time.monotonic()
        rests = self._failed and now < self._next_try and not last
        if self._file is None or self._given_up or rests:
            return
        self._next_try = now + EVERY_S
        try:
            while self._written < len(self._kept):
                self._written += self._file.write(bytes(self._kept[self._written :]))
            if self._sync_wanted or last or now >= self._next_sync:
                self._sync_wanted = False
                self._next_sync = now + EVERY_S
                self._file.sync_soon()
        except OSError as error:
            self._fail(error)

    def _fail(self, error: OSError) -> None:
        """Remember the failure, and tell it the first time."""
        self._given_up = self._given_up or error.errno in _GONE
        if not self._failed:
            self._failed = True
            why = plain_file.why(error, "the folder is gone")
            self.news.append(
                f"The session cannot be written to {self._folder}: {why}. "
                "Playing goes on; it is kept in memory and will be saved at the end."
            )
