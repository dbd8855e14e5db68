"""Sessions at hand without a folder: what the replay screen shows in its tests."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from opened import Opened
from stage import pattern

from trainer.actions.replay import OpenedSession, ReplayRequest, ReplayStep
from trainer.archive.session import RungResult, Session, SessionHeader
from trainer.archive.summary import judge_session, session_summary
from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.practice.course import Course, Pass
from trainer.screens.replay import OpeningScreen

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.archive.session_list import SessionEntry
    from trainer.errors import TrainerError
    from trainer.pattern.model import Pattern
    from trainer.practice.outcomes import Judged

WRITTEN = pattern(bars=2, title="[b]Singles[/b]")
PASSES = tuple(Pass(index, 120.0, 1.0 + 4.0 * index) for index in range(3))
LADDER = tuple(
    Pass(index, 100.0 + 20.0 * (index // 3), 1.0 + 5.0 * index, index // 3) for index in range(6)
)
RUNGS = (RungResult(0, 100.0, True), RungResult(1, 120.0, False, ("late",)))


def session(
    passes: tuple[Pass, ...] = PASSES,
    *,
    written: Pattern = WRITTEN,
    late_ms: float = 4.0,
    velocity: int = 90,
    missed: Sequence[int] = (2,),
    rungs: tuple[RungResult, ...] = (),
) -> Session:
    """Return passes with every stroke equally late, some strokes of each missed, and one stray.

    Later passes are a hair later and harder, so that no figure is without any variation.
    """
    strikes = []
    for target in Course(written, passes).targets():
        if target.note_index not in missed:
            note = GENERAL_MIDI.note(target.note.voice)
            assert note is not None
            more = 0.0002 * target.pass_index
            strikes.append(
                Strike(target.time_s + late_ms / 1000 + more, note, velocity + target.pass_index)
            )
    strikes.append(Strike(2.1, 77, 50))
    strikes.sort(key=lambda strike: strike.time_s)
    started = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
    return Session(
        SessionHeader(written, started), passes=passes, strikes=tuple(strikes), rungs=rungs
    )


def ladder(**more: object) -> Session:
    """Return two rungs of three passes."""
    return session(LADDER, rungs=RUNGS, **more)  # type: ignore[arg-type]


class Shelf:
    """Gives one session, and others by the path of an entry; `fault` is raised instead."""

    def __init__(
        self,
        opened: Session,
        path: Path = Path("/tmp/one.jsonl"),
        others: dict[Path, Session] | None = None,
        entries: Sequence[SessionEntry] = (),
    ) -> None:
        self.session, self.path = opened, path
        self._others, self._entries = others or {}, entries
        self.fault: TrainerError | None = None
        self.hold: Callable[[Callable[[ReplayStep], object]], object] = lambda report: None

    def open(self, report: Callable[[ReplayStep], object]) -> OpenedSession:
        report(ReplayStep("judge", strokes=70))
        self.hold(report)
        if self.fault:
            raise self.fault
        take = judge_session(self.session)
        request = ReplayRequest(self.path.parent)
        pictures = self.path.with_suffix("")
        summary = session_summary(self.session)
        return OpenedSession(request, self.path, pictures, self.session, take, summary)

    def others(self, _opened: OpenedSession) -> Sequence[SessionEntry]:
        return self._entries

    def judged(self, path: Path) -> Judged:
        return judge_session(self._others[path])


def replay(opened: Session | None = None, path: Path = Path("/tmp/one.jsonl")) -> Opened:
    """Return the app on a session, or on three plain passes."""
    return replay_of(Shelf(opened or session(), path))


def replay_of(shelf: Shelf) -> Opened:
    """Return the app that opens the session of a shelf."""
    return Opened(OpeningScreen(shelf))
