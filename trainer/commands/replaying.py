"""Where the replay finds its sessions, and which of them is wanted, read through which kit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.archive.find_session import find_session
from trainer.archive.recovery import recover
from trainer.archive.session_file import open_session
from trainer.archive.session_list import list_sessions
from trainer.archive.summary import cut_short, judged, summary_of
from trainer.commands.taken import is_take, session_of
from trainer.errors import BadInput
from trainer.file_system import shipped_folder, user_folder
from trainer.show.review import Review

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from trainer.archive.session import Session
    from trainer.archive.session_list import SessionEntry
    from trainer.practice.outcomes import Judged
    from trainer.screens.replay_app import OpenedSession

    Told = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked for: which session, read how, and which part of it over which other one.

    `session` and `over` are given as `find` takes them; `part` is a rung or pass with its number.
    `pattern` is what was played in a recorded take.
    """

    folder: Path
    session: str | None = None
    over: str | None = None
    part: tuple[str, int] | None = None
    by_limb: bool = False
    kit: str | None = None
    latency_ms: float | None = None
    pattern: str | None = None


class Shelf:
    """The sessions of a folder; opens the one that is wanted."""

    def __init__(self, wanted: Wanted) -> None:
        self.wanted = wanted

    def open(self, told: Told) -> OpenedSession:
        """Finish what was cut off, then read and judge the session."""
        from trainer.screens.replay_app import OpenedSession

        wanted = self.wanted
        told("looking through the folder")
        found = recover(wanted.folder, list_sessions(wanted.folder))
        path = find_session(wanted.folder, wanted.session)
        told(f"reading {path.name}")
        session = self._read(path)
        told(f"judging {len(session.strikes)} strokes")
        take = judged(session)
        told(f"measuring {len(take.targets)} strokes")
        summary = summary_of(session, take)
        review = self._review(session, take, told)
        remarks = tuple(map(str, found))
        return OpenedSession(path, pictures_of(path), session, take, summary, review, remarks)

    def _review(self, session: Session, take: Judged, told: Told) -> Review | None:
        """Return the review of a session, over another one where asked for."""
        wanted = self.wanted
        if not session.passes:
            if wanted.over or wanted.part:
                raise BadInput("no pass was begun in this session, so there is no map of it")
            return None
        review = Review(take, session.rungs)
        review.by_limb = wanted.by_limb
        if wanted.over is not None:
            path = find_session(wanted.folder, wanted.over)
            told(f"judging {path.name}")
            review.lay_over(self.judged(path), path.stem)
        if wanted.part is not None:
            review.choose(*wanted.part)
        return review

    def others(self, opened: OpenedSession) -> Sequence[SessionEntry]:
        """Return the other sessions of the same pattern, the oldest first."""
        own = opened.path.resolve()
        return [
            entry
            for entry in list_sessions(self.wanted.folder).entries
            if entry.pattern == opened.session.pattern.name and entry.path.resolve() != own
        ]

    def judged(self, path: Path) -> Judged:
        """Return another session, judged."""
        return judged(self._read(path))

    def _read(self, path: Path) -> Session:
        wanted = self.wanted
        if is_take(path):
            return session_of(path, wanted.pattern, wanted.kit, wanted.latency_ms)
        session = cut_short(open_session(path))
        return read_again(session, wanted.kit, wanted.latency_ms)


def read_again(session: Session, kit: str | None, latency_ms: float | None) -> Session:
    """Return the session as its strikes read through another kit or latency, where asked for."""
    if kit is None and latency_ms is None:
        return session
    from trainer.kit import kits

    read = kits.with_latency(kits.load(kit) if kit else session.kit, latency_ms)
    # The saved summary was made with the old kit; there is nothing to compare it with.
    return replace(session, header=replace(session.header, kit=read), summary={})


def pictures_of(path: Path) -> Path:
    """Return where a session's pictures go, without an ending: beside it.

    Those of an example go into the player's own folder; nothing is put into the installation.
    """
    folder = path.parent
    if folder.resolve() == shipped_folder("recordings").resolve():
        folder = user_folder("recordings")
    return folder / path.stem
