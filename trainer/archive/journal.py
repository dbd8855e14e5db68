"""The journal: writes a session to disk while it is played, and never holds up the playing.

The playing loop only hands lines over, into a queue. A helper thread owns the file: it writes each
line at once, so that a killed process loses what was played in the last moment at most, and has the
file synced at every rung and at most every second. So neither a slow sync nor a disk that hangs can
ever delay a click. The thread also keeps the whole session in memory (about a megabyte for an hour
of steady playing): when the disk fails, playing continues, the player is warned once, and `finish`
saves the session in another folder.
"""

from __future__ import annotations

import contextlib
import dataclasses
import errno
import tempfile
import threading
import time
from collections import deque
from io import BytesIO
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any

from trainer import file_system
from trainer.archive import session_format
from trainer.archive.journal_file import JournalFile, save_whole_session
from trainer.archive.session import (
    LONGEST_FILE,
    LONGEST_LINE,
    LONGEST_S,
    MOST_LINES,
    MOST_TARGETS,
    notes_due,
)
from trainer.archive.session_file import parse_session
from trainer.archive.session_lines import read_header
from trainer.file_system import user_folder

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.archive.session import RungResult, SentClick, Session, SessionHeader, SessionMark
    from trainer.kit.hits import Strike
    from trainer.midi.hit_source import Control
    from trainer.practice.course import Pass


SYNC_EVERY_S = 1.0
"""The longest a written line waits for its sync, and the shortest time between two tries."""

GATHER_S = 0.005
"""Lines that follow each other within this time are written together."""

_FILE_LOST = (errno.ENOENT, errno.EIO, errno.ENODEV)
"""Failures after which nothing that was written to the file can be relied on."""


class JournalWriter:
    """One file and its thread. `put`, `sync_soon` and `news` are for the playing loop.

    `_kept` holds the whole session and `_written` counts how much of it the file has, so that after
    a failure the next try continues exactly where the disk stopped. `_given_up` is True once the
    file is gone or unsure.
    """

    def __init__(
        self, folder: Path, header: SessionHeader, instead: Path, *, at_once: bool = True
    ) -> None:
        self._instead = instead
        self.news: deque[str] = deque()
        self._folder, self._header = folder, header
        self._file: JournalFile | None = None
        self._queue: SimpleQueue[bytes] = SimpleQueue()
        self._kept = bytearray(session_format.header_line(header))
        self._handed = len(self._kept)
        self._written = 0
        self._failed = self._given_up = self._stopping = False
        self._sync_wanted = True
        self._next_sync = self._next_try = 0.0
        self._begun = at_once
        if at_once:
            self._begin()
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

    @property
    def size(self) -> int:
        """Bytes handed over so far."""
        return self._handed

    def put(self, line: bytes) -> None:
        """Hand a line over."""
        self._handed += len(line)
        self._queue.put(line)

    def sync_soon(self) -> None:
        """Have the disk sync, with the lines handed over so far."""
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

    def _begin(self) -> None:
        """Make the file and write what there is already."""
        try:
            self._file = JournalFile(self._folder, self._header)
        except OSError as error:
            self._fail(error)
        self._work()

    def _run(self) -> None:
        last = False
        if not self._begun:
            self._begin()
        while not last:
            # Asked before collecting, so that nothing handed over before the stop is left behind.
            last = self._stopping
            if not last:
                self._wait()
            self._collect()
            self._work(last=last)

    def _wait(self) -> None:
        with contextlib.suppress(Empty):
            self._kept += self._queue.get(timeout=SYNC_EVERY_S)
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
        self._next_try = now + SYNC_EVERY_S
        try:
            while self._written < len(self._kept):
                self._written += self._file.write(bytes(self._kept[self._written :]))
            if self._sync_wanted or last or now >= self._next_sync:
                self._sync_wanted = False
                self._next_sync = now + SYNC_EVERY_S
                self._file.sync_soon()
        except OSError as error:
            self._fail(error)

    def _fail(self, error: OSError) -> None:
        """Remember the failure, and report it the first time."""
        self._given_up = self._given_up or error.errno in _FILE_LOST
        if not self._failed:
            self._failed = True
            why = file_system.disk_reason(error, "the folder is gone")
            self.news.append(
                f"The session cannot be written to {self._folder}: {why}. "
                "Playing continues; it is kept in memory and will be saved at the end, in "
                f"{self._instead} if not there."
            )


SPARE_LINES, SPARE_BYTES, SPARE_S = 20_000, 2 * LONGEST_LINE, 3600.0
"""Room below the bounds of a file at which a session has to end, so that it can be read again."""

FULL = "The file of this session is full; it ends here and is saved. Start again to continue."

LONGEST_WAIT_S = 10.0
"""How long `finish` waits for a disk that hangs before it saves elsewhere."""


class Journal:
    """Takes a session down as it happens. Every method but `finish` returns at once.

    Raises BadInput for a header that could not be read again (a title without end), before anything
    is played. `folder` is made where it is missing. `elsewhere` are the folders tried at the end
    when it fails: by default the player's own recordings, the home folder and the system's folder
    for passing files. With `at_once` the file is there when this returns; else its thread makes it.
    """

    def __init__(
        self,
        folder: Path,
        header: SessionHeader,
        *,
        elsewhere: Sequence[Path] | None = None,
        at_once: bool = True,
    ) -> None:
        read_header(session_format.header_line(header))
        self._header = header
        self._folder = folder
        self._elsewhere = elsewhere
        self._passes: list[Pass] = []
        self._rungs: list[RungResult] = []
        self._strikes = 0
        self._lines = 1
        self._due = 0
        self._closed = False
        self.full = False
        """True once the session should end: a longer file could not be read again."""
        instead = next((one for one in self._elsewhere_folders() if one != folder), folder)
        self._writer = JournalWriter(folder, header, instead, at_once=at_once)
        self.path: Path | None = self._writer.path
        """Where the session is being written; None while it is only in memory."""

    def news(self) -> list[str]:
        """Return what is new for the player since the last call (at most one failure)."""
        news = self._writer.news
        return [news.popleft() for _ in range(len(news))]

    def add_news(self, text: str) -> None:
        """Add something new for the player."""
        self._writer.news.append(text)

    @property
    def half_full(self) -> bool:
        """Whether half of what a file may hold is used."""
        return (
            self._lines > MOST_LINES // 2
            or self._writer.size > LONGEST_FILE // 2
            or self._due > MOST_TARGETS // 2
        )

    def _put(self, line: bytes, time_s: float = 0.0) -> None:
        """Hand a line over, and see whether the file has room for many more."""
        self._lines += 1
        self._writer.put(line)
        if not self.full and (
            self._lines > MOST_LINES - SPARE_LINES
            or self._writer.size > LONGEST_FILE - SPARE_BYTES
            or time_s > LONGEST_S - SPARE_S
            or self._due + 2 * len(self._header.pattern.notes) > MOST_TARGETS
        ):
            self.full = True
            self._writer.news.append(FULL)

    def _put_input(self, line: bytes, time_s: float) -> None:
        """Hand over what came in; left out at the very end, where only the summary still fits."""
        lines, size = SPARE_LINES // 2, SPARE_BYTES * 3 // 4
        if self._lines < MOST_LINES - lines and self._writer.size < LONGEST_FILE - size:
            self._put(line, time_s)

    def pass_started(self, one: Pass) -> None:
        """A pass is laid out."""
        self._passes.append(one)
        self._due += len(self._header.pattern.notes)
        self._put(session_format.pass_line(one))

    def cut(self, pass_index: int, at_s: float) -> None:
        """A pass ends early: targets due at or after `at_s` are not judged."""
        one = self._passes[pass_index] = dataclasses.replace(self._passes[pass_index], end_s=at_s)
        pattern = self._header.pattern
        self._due += notes_due(pattern, one) - len(pattern.notes)
        self._put(session_format.cut_line(pass_index, at_s))

    def strike(self, strike: Strike) -> None:
        """A raw strike, as it was stamped."""
        self._strikes += 1
        self._put_input(session_format.strike_line(strike), strike.time_s)

    def idle(self, strike: Strike) -> None:
        """A raw strike while nothing was asked: kept, and never judged."""
        self._put_input(session_format.idle_line(strike), strike.time_s)

    def control(self, control: Control) -> None:
        """A controller or choke."""
        self._put_input(session_format.control_line(control), control.time_s)

    def click(self, click: SentClick) -> None:
        """A click went out."""
        self._put_input(session_format.click_line(click), click.time_s)

    def timing(self, timing: dict[str, Any]) -> None:
        """How well time was kept; figures of the same name take the place of earlier ones."""
        self._put(session_format.timing_line(timing))

    def rung(self, rung: RungResult) -> None:
        """A rung has its result; the disk is asked to keep everything so far."""
        self._rungs.append(rung)
        self._put(session_format.rung_line(rung))
        self._writer.sync_soon()

    def mark(self, mark: SessionMark) -> None:
        """Playing stopped or continued."""
        self._put(session_format.mark_line(mark))

    def session(self) -> Session:
        """Return the session as far as it was taken down, read from its own lines."""
        return parse_session(BytesIO(self._writer.whole(LONGEST_WAIT_S)))

    def finish(self, summary: dict[str, Any], clean_tempo: float | None = None) -> Path | None:
        """Write the last line and close; return where the session is, None where nowhere took it.

        Call it once; a second call changes nothing.
        """
        if not self._closed:
            self._writer.put(
                session_format.summary_line(
                    summary,
                    self._header.pattern,
                    self._passes,
                    self._strikes,
                    self._rungs,
                    clean_tempo=clean_tempo,
                )
            )
        self.close()
        return self.path

    @property
    def unplayed(self) -> bool:
        """True while no stroke of the take was written down."""
        return not self._strikes

    def discard(self) -> None:
        """Close and remove the file: nothing was played."""
        if not self._closed:
            self._closed = True
            self._writer.stop(LONGEST_WAIT_S)
        self._writer.discard()
        self.path = None

    def close(self) -> None:
        """Close without a last line; the next start finds the session and finishes it."""
        if self._closed:
            return
        self._closed = True
        whole = self._writer.stop(LONGEST_WAIT_S)
        self.path = self._writer.path if whole is None else self._save_elsewhere(whole)

    def _save_elsewhere(self, whole: bytes) -> Path | None:
        for folder in self._folders():
            try:
                path = save_whole_session(folder, self._header, whole, LONGEST_WAIT_S)
            except OSError:
                continue
            self._writer.discard()
            self._writer.news.append(f"The session is saved in another place: {path}")
            return path
        self._writer.news.append("The session could be saved nowhere in full.")
        return self._writer.path

    def _folders(self) -> Iterator[Path]:
        if not self._writer.hangs and self._folder.is_dir():
            yield self._folder
        yield from self._elsewhere_folders()

    def _elsewhere_folders(self) -> Sequence[Path]:
        if self._elsewhere is not None:
            return self._elsewhere
        return user_folder("recordings"), Path.home(), Path(tempfile.gettempdir())
