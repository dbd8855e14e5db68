"""The sessions of a folder, with what a crash cut off finished first, and the ceilings in them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.archive.history import choose_sessions
from trainer.archive.recovery import recover
from trainer.archive.session_list import list_sessions

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from pathlib import Path

    from trainer.archive.ceilings import Climb
    from trainer.archive.recovery import Recovery
    from trainer.archive.session_list import SessionEntry
    from trainer.errors import BadInput


@dataclass(frozen=True, slots=True)
class HistoryRequest:
    """Which sessions of a folder: of a pattern (a part of its name or title), a player, a time."""

    folder: Path
    pattern: str | None = None
    player: str | None = None
    start: datetime | None = None


@dataclass(frozen=True, slots=True)
class FolderSessions:
    """All sessions of a folder, the oldest first; what was finished now; and unreadable files."""

    entries: tuple[SessionEntry, ...]
    recovered: tuple[Recovery, ...] = ()
    faults: tuple[BadInput, ...] = ()


@dataclass(frozen=True, slots=True)
class History:
    """The sessions that were chosen, the oldest first, each player's climbs, and all there is."""

    chosen: tuple[SessionEntry, ...]
    climbs: tuple[Climb, ...]
    sessions: FolderSessions


def read_sessions(folder: Path, report: Callable[[int], None] | None = None) -> FolderSessions:
    """Return the sessions of a folder; `report` gets now and then how many files were read."""
    listing = list_sessions(folder, report)
    recovered = tuple(recover(folder, listing))
    if recovered:
        listing = list_sessions(folder)
    return FolderSessions(listing.entries, recovered, listing.faults)


def read_history(request: HistoryRequest) -> History:
    """Return the sessions that a request chooses, with the ceilings of their ladders."""
    from trainer.archive.ceilings import climbs

    found = read_sessions(request.folder)
    chosen = choose_sessions(
        found.entries, pattern=request.pattern, player=request.player, start=request.start
    )
    return History(chosen, tuple(climbs(chosen)), found)
