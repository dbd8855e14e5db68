"""A recorded take as a session, so that it can be gone through stroke by stroke like one."""

from __future__ import annotations

from argparse import Namespace
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.archive.session import Session, SessionHeader
from trainer.commands.score import laid_on

if TYPE_CHECKING:
    from pathlib import Path

TAKES = (".mid", ".midi")


def is_take(path: Path) -> bool:
    """Return True for a MIDI file, by its name."""
    return path.suffix.lower() in TAKES


def session_of(
    path: Path, pattern: str | None, kit: str | None = None, latency_ms: float | None = None
) -> Session:
    """Return a take as a session of its file's date: the passes that were found in it.

    Raises BadInput as `trainer score` does. Nothing is saved.
    """
    given = Namespace(pattern=pattern, tempo=None, start="auto", kit=kit, latency=latency_ms)
    found, take, kit_used = laid_on(path, given)
    recorded = datetime.fromtimestamp(path.stat().st_mtime).astimezone()
    header = SessionHeader(found.course.pattern, recorded, kit=kit_used, source=take.name)
    return Session(header, found.course.passes, take.strikes, summary={})
