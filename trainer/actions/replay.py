"""A saved session again: found, finished where it was cut off, and judged from its raw strikes.

A session can be read through another kit or latency, and laid over another one of its pattern.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Protocol

from trainer.archive.session_file import open_session
from trainer.archive.session_list import find_session, list_sessions
from trainer.archive.summary import cut_short, judge_session, summary_of
from trainer.errors import BadInput
from trainer.file_system import shipped_folder, user_folder
from trainer.practice.course import pass_end

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from trainer.archive.recovery import Recovery
    from trainer.archive.session import Session
    from trainer.archive.session_list import SessionEntry
    from trainer.practice.outcomes import Judged

    Report = Callable[["ReplayStep"], object]

TAKE_SUFFIXES = (".mid", ".midi")


@dataclass(frozen=True, slots=True)
class ReplayRequest:
    """Which session, read how, and which part of it over which other one.

    `session` (None: the newest) and `over` are names as `find_session` takes them. `part` is
    `rung` or `pass` with its number from 1, `by_limb` has rows by limb. `kit` and `latency_ms`
    replace the session's own; `pattern` is what was played in a recorded take.
    """

    folder: Path
    session: str | None = None
    over: str | None = None
    part: tuple[str, int] | None = None
    by_limb: bool = False
    kit: str | None = None
    latency_ms: float | None = None
    pattern: str | None = None


@dataclass(frozen=True, slots=True)
class ReplayStep:
    """What is being done: `kind` is search, read, judge or measure; of a file, or of strokes."""

    kind: str
    name: str = ""
    strokes: int = 0


@dataclass(frozen=True, slots=True)
class OpenedSession:
    """A judged session; `summary` is its reading as it is now.

    `pictures` is the path of its pictures without their ending, `recovered` what was finished on
    the way, `other` the take it is laid over, with its name.
    """

    request: ReplayRequest
    path: Path
    pictures: Path
    session: Session
    take: Judged
    summary: dict[str, Any]
    recovered: tuple[Recovery, ...] = ()
    other: Judged | None = None
    other_name: str = ""

    @property
    def has_map(self) -> bool:
        """Whether there is a hit map: strokes are written, and a bar was begun."""
        return has_map(self.take)


NO_MAP = "no written stroke was played in this session, so there is no map of it"


def has_map(take: Judged) -> bool:
    """Return whether a take has a hit map: strokes are written, and a bar was begun."""
    pattern = take.course.pattern
    begun = any(pass_end(pattern, one) > one.begins_s for one in take.course.passes)
    return begun and bool(pattern.notes)


class SessionShelf(Protocol):
    """Where the sessions are. Everything here may take its time, and raises TrainerError."""

    def open(self, report: Report) -> OpenedSession:
        """Return the session of the request, judged; `report` gets what is being done."""
        ...

    def others(self, opened: OpenedSession) -> Sequence[SessionEntry]:
        """Return the other sessions of the same pattern, the oldest first."""
        ...

    def judged(self, path: Path) -> Judged:
        """Return another session, judged."""
        ...


class FolderShelf:
    """The sessions of a folder, read as a request says."""

    def __init__(self, request: ReplayRequest) -> None:
        self.request = request

    def open(self, report: Report) -> OpenedSession:
        """Finish what was cut off, then read and judge the session."""
        request = self.request
        report(ReplayStep("search"))
        recovered = finish_cut_off(request.folder)
        path = find_session(request.folder, request.session)
        report(ReplayStep("read", path.name))
        opened = judge_opened(request, path, self._read(path), report)
        opened = replace(opened, recovered=recovered)
        if not opened.has_map and (request.over or request.part):
            raise BadInput(NO_MAP, where=path.name, fix="leave --over, --rung and --pass out")
        if request.over is None:
            return opened
        other = find_session(request.folder, request.over)
        report(ReplayStep("judge", other.name))
        below = self.judged(other)
        if not has_map(below):
            raise BadInput(NO_MAP, where=other.name, fix="choose another session")
        return replace(opened, other=below, other_name=other.stem)

    def others(self, opened: OpenedSession) -> Sequence[SessionEntry]:
        """Return the other sessions of the same pattern, the oldest first."""
        own = opened.path.resolve()
        return [
            entry
            for entry in list_sessions(self.request.folder).entries
            if entry.pattern == opened.session.pattern.name
            and entry.played
            and entry.path.resolve() != own
        ]

    def judged(self, path: Path) -> Judged:
        """Return another session, judged."""
        return judge_session(self._read(path))

    def _read(self, path: Path) -> Session:
        request = self.request
        if is_take(path):
            from trainer.actions.assess import AssessRequest, take_as_session

            take = AssessRequest(
                path, request.pattern, kit=request.kit, latency_ms=request.latency_ms
            )
            return take_as_session(take)
        return read_again(cut_short(open_session(path)), request.kit, request.latency_ms)


def judge_opened(
    request: ReplayRequest,
    path: Path,
    session: Session,
    report: Report = lambda _: None,
) -> OpenedSession:
    """Return a session that was read, judged and measured."""
    report(ReplayStep("judge", strokes=len(session.strikes)))
    take = judge_session(session)
    report(ReplayStep("measure", strokes=len(take.targets)))
    summary = summary_of(session, take)
    return OpenedSession(request, path, picture_stem(path), session, take, summary)


def replay_file(path: Path) -> OpenedSession:
    """Return the session of one file as it was played; nothing else of its folder is touched."""
    request = ReplayRequest(path.parent, str(path))
    return judge_opened(request, path, cut_short(open_session(path)))


def is_take(path: Path) -> bool:
    """Return whether a file is a recorded take, by its name."""
    return path.suffix.lower() in TAKE_SUFFIXES


def finish_cut_off(folder: Path) -> tuple[Recovery, ...]:
    """Finish the sessions of a folder that a crash cut off, and return them."""
    listing = list_sessions(folder)
    if all(entry.finished for entry in listing.entries):
        return ()
    from trainer.archive.recovery import recover

    return tuple(recover(folder, listing))


def read_again(session: Session, kit: str | None, latency_ms: float | None) -> Session:
    """Return the session as its strikes read through another kit or latency (ms), if given."""
    if kit is None and latency_ms is None:
        return session
    from trainer.kit import kits

    read = kits.with_latency(kits.load(kit) if kit else session.kit, latency_ms)
    # The saved summary was made with the old kit; there is nothing to compare it with.
    return replace(session, header=replace(session.header, kit=read), summary={})


def picture_stem(path: Path) -> Path:
    """Return where a session's pictures go, without an ending: beside it.

    Those of an example go into the player's own folder; nothing is put into the installation.
    """
    folder = path.parent
    if folder.resolve() == shipped_folder("recordings").resolve():
        folder = user_folder("recordings")
    return folder / path.stem
