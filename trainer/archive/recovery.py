"""Sessions that a crash cut off: found at the next start, judged, and finished with a last line.

A session that another process is still writing is never touched: its file is locked while it is
written, and the lock ends with the process however that ends. Where a disk knows no locks, a file
that changed in the last minutes counts as in use.
"""

from __future__ import annotations

import io
import os
import stat
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer import file_system
from trainer.archive import journal_file, session_format
from trainer.archive.session import LONGEST_FILE
from trainer.archive.session_file import parse_session
from trainer.archive.session_list import list_sessions
from trainer.archive.summary import clean_tempo, cut_short, judge_session, summary_of
from trainer.errors import BadInput, TrainerError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from trainer.archive.session import Session
    from trainer.archive.session_list import SessionListing

IN_USE_S = 600.0
"""How old the last change must be where locks are unknown."""


@dataclass(frozen=True, slots=True)
class Recovered:
    """A session that was cut off and is now finished."""

    path: Path
    session: Session


Recovery = Recovered | TrainerError
"""What became of a session that was cut off: finished, or the fault that keeps it as it is."""


def recover(
    folder: Path, listing: SessionListing | None = None, *, clock: Callable[[], float] = time.time
) -> list[Recovery]:
    """Finish every cut-off session of a folder that nobody is writing, and return them.

    A file with faults is left as it is, and its fault returned in its place; so is what cannot be
    written, without a word. `listing` saves a look where the caller has one; `clock` gives the time
    that files are dated in.
    """
    entries = (listing or list_sessions(folder)).entries
    cut_off = (entry.path for entry in entries if not entry.finished)
    found: list[Recovery] = []
    for path in cut_off:
        try:
            session = finish_file(path, clock=clock)
        except OSError:
            continue
        except BadInput as fault:
            found.append(fault.at(str(path)))
            continue
        if session is not None:
            found.append(Recovered(path, session))
    return found


def finish_file(
    path: Path, *, cut_off: bool = True, clock: Callable[[], float] = time.time
) -> Session | None:
    """Finish one file, or return None where it is in use or finished already.

    One that was not `cut_off` is whole but for its summary. Raises OSError or BadInput.
    """
    fd = journal_file.open_for_fixing(path)
    try:
        return None if _in_use(fd, clock()) else _append_end(fd, cut_off=cut_off)
    finally:
        os.close(fd)


def _in_use(fd: int, now: float) -> bool:
    held = journal_file.lock_file(fd)
    about = os.fstat(fd)
    if not stat.S_ISREG(about.st_mode) or about.st_size > LONGEST_FILE:
        return True
    recent = now - about.st_mtime < IN_USE_S
    return held is journal_file.FileLock.BUSY or (held is journal_file.FileLock.UNKNOWN and recent)


def _append_end(fd: int, *, cut_off: bool) -> Session | None:
    """Judge what is there, drop a torn line, and append the end in one write."""
    os.lseek(fd, 0, os.SEEK_SET)
    with os.fdopen(os.dup(fd), "rb") as file:
        data = file.read(LONGEST_FILE)
    whole = data.rfind(b"\n") + 1
    session = parse_session(io.BytesIO(data[:whole]))
    if session.summary is not None:
        return None
    short = cut_short(session) if cut_off else session
    end = _cut_line(session, short) + _summary_line(short, cut_off)
    os.ftruncate(fd, whole)
    while end:
        end = end[os.write(fd, end) :]
    file_system.sync_file(fd)
    return short


def _cut_line(before: Session, after: Session) -> bytes:
    """Return the line that says where the last pass was cut, empty where it was not."""
    if before.passes == after.passes:
        return b""
    last = after.passes[-1]
    assert last.end_s is not None
    return session_format.cut_line(last.index, last.end_s)


def _summary_line(session: Session, cut_off: bool) -> bytes:
    take = judge_session(session)
    return session_format.summary_line(
        summary_of(session, take),
        session.pattern,
        session.passes,
        len(session.strikes),
        session.rungs,
        recovered=cut_off,
        clean_tempo=clean_tempo(session, take),
    )
