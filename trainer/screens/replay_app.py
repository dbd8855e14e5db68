"""The app that goes through a session again: it opens at once and judges off the event loop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from textual import work

from trainer.console import printable
from trainer.errors import TrainerError
from trainer.screens.common import call_on_screen
from trainer.screens.dialogs import WaitScreen
from trainer.screens.replay import ReplayScreen
from trainer.screens.summary import SummaryScreen
from trainer.screens.trainer_app import TrainerApp
from trainer.show.page import PageLeft
from trainer.show.session_words import session_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from textual.screen import Screen

    from trainer.archive.session import Session
    from trainer.archive.session_list import SessionEntry
    from trainer.practice.outcomes import Judged
    from trainer.show.review import Review

    Told = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class OpenedSession:
    """A judged session, ready to be gone through. `review` is None where no pass was begun.

    `pictures` is the path of its pictures, without their ending; `remarks` is what should be known.
    """

    path: Path
    pictures: Path
    session: Session
    take: Judged
    summary: dict[str, Any]
    review: Review | None
    remarks: Sequence[str] = ()


class SessionShelf(Protocol):
    """Where the sessions are. Everything here may take its time, and raises TrainerError."""

    def open(self, told: Told) -> OpenedSession:
        """Return the session asked for, judged; `told` hears what is being done."""
        ...

    def others(self, opened: OpenedSession) -> Sequence[SessionEntry]:
        """Return the other sessions of the same pattern, the oldest first."""
        ...

    def judged(self, path: Path) -> Judged:
        """Return another session, judged."""
        ...


class ReplayApp(TrainerApp[None]):
    """Going through a session again. `fault` is why it could not be opened."""

    def __init__(self, shelf: SessionShelf) -> None:
        super().__init__()
        self.shelf = shelf
        self.fault: TrainerError | None = None
        self._waiting = WaitScreen("Opening the session")

    def get_default_screen(self) -> Screen[Any]:
        """Begin with what is being done."""
        return self._waiting

    def on_mount(self) -> None:
        """Read and judge once there is something to look at."""
        self.call_after_refresh(self.open_session)

    @work(thread=True)
    def open_session(self) -> None:
        """Read and judge the session; leave off between two steps when the player has left."""

        def told(step: str) -> None:
            if not call_on_screen(self._waiting, self._waiting.say, step):
                raise PageLeft

        try:
            opened = self.shelf.open(told)
        except PageLeft:
            return
        except TrainerError as fault:
            call_on_screen(self, self._failed, fault)
        else:
            call_on_screen(self, self._show, opened)

    def _failed(self, fault: TrainerError) -> None:
        self.fault = fault
        self.exit(return_code=fault.status)

    def _show(self, opened: OpenedSession) -> None:
        """Show the session; one without a pass has only its summary."""
        summary = _summary_of(opened)
        if opened.review is None:
            self.push_screen(summary, lambda _: self.exit())
        else:
            self.install_screen(summary, "summary")
            self.push_screen(ReplayScreen(opened.review, opened, self.shelf))
        for remark in opened.remarks:
            self.notify(printable(remark), severity="warning", markup=False)


def _summary_of(opened: OpenedSession) -> SummaryScreen:
    title, *lines = session_lines(opened.session, opened.summary)
    return SummaryScreen(
        title,
        lines,
        str(opened.path),
        summary=opened.summary,
        pictures=opened.pictures,
    )
