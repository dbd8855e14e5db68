"""The file of a session that is being played: its name, its lock, its syncs, and its end.

Syncs run in a thread of their own. One can take most of a second while other programs write to the
same disk; lines that come meanwhile must reach the file all the same, or a killed process would
lose them.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import threading
from queue import SimpleQueue
from typing import TYPE_CHECKING

from trainer import plain_file
from trainer.archive import disk

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.archive.session import Header

SUFFIX = ".jsonl"


def file_name(header: Header, count: int = 1) -> str:
    """Return the name of a session's file: start and pattern, in characters every disk takes."""
    pattern = re.sub(r"[^A-Za-z0-9]+", "-", header.pattern.name)[:60].strip("-") or "pattern"
    again = f"-{count}" if count > 1 else ""
    return f"{header.started:%Y%m%d-%H%M%S}-{pattern}{again}{SUFFIX}"


class JournalFile:
    """A new file in a folder, which is made where it is missing; raises OSError where it cannot be.

    It is locked until it is closed, so that no other start takes it for a session that was cut off.
    """

    def __init__(self, folder: Path, header: Header) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.path, self._fd = _create(folder, header)
        disk.lock(self._fd)
        plain_file.sync_folder(folder)
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
                plain_file.sync(self._fd)
            except OSError as error:
                self._failure = self._failure or error


def _create(folder: Path, header: Header) -> tuple[Path, int]:
    for count in range(1, 10_000):
        path = folder / file_name(header, count)
        with contextlib.suppress(FileExistsError):
            return path, disk.create(path)
    raise FileExistsError(errno.EEXIST, f"no free name in {folder}")


def save_whole(folder: Path, header: Header, whole: bytes, wait_s: float) -> Path:
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
