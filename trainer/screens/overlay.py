"""Laying a session over another one of its pattern: finding them, choosing one, and judging it.

Both finding and judging may take their time and happen off the event loop.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from textual import work
from textual.screen import Screen

from trainer.console import printable
from trainer.errors import TrainerError
from trainer.screens.common import call_on_screen
from trainer.screens.dialogs import ChooseScreen
from trainer.show.history_words import session_choices

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from trainer.actions.replay import OpenedSession, SessionShelf
    from trainer.archive.session_list import SessionEntry
    from trainer.practice.outcomes import Judged
    from trainer.show.review import Review

NONE = "none"

Found = TypeVar("Found")


class OverScreen(Screen[None]):
    """A screen that shows a review and can lay it over another session."""

    def __init__(self, review: Review, opened: OpenedSession, shelf: SessionShelf) -> None:
        super().__init__()
        self.review, self.opened, self.shelf = review, opened, shelf

    def refresh_map(self) -> None:
        """Draw everything again."""
        raise NotImplementedError

    def action_over(self) -> None:
        """Lay the session over another one of the same pattern, or over none again."""
        self.find_others()

    @work(thread=True, exclusive=True, group="other")
    def find_others(self) -> None:
        """Look for other sessions of this pattern."""
        self._long(lambda: self.shelf.others(self.opened), self.offer)

    @work(thread=True, exclusive=True, group="other")
    def judge_other(self, path: Path) -> None:
        """Judge another session."""
        self._long(lambda: self.shelf.judged(path), lambda judged: self.lay_over(judged, path.stem))

    def _long(self, does: Callable[[], Found], hears: Callable[[Found], None]) -> None:
        """Do something long and say what came of it, or what went wrong."""
        try:
            found = does()
            call_on_screen(self, hears, found)
        except TrainerError as fault:
            reported = printable(str(fault))
            call_on_screen(self, self.notify, reported, severity="error", markup=False)

    def offer(self, entries: Sequence[SessionEntry]) -> None:
        """Ask which session to lay this one over."""
        choices = session_choices(reversed(entries))
        if self.review.there is not None:
            choices.insert(0, (NONE, "this session alone"))
        if not choices:
            self.notify("There is no other session of this pattern.", markup=False)
            return
        paths = {one.path.stem: one.path for one in entries}

        def take(name: str | None) -> None:
            if name == NONE:
                self.lay_over(None, "")
            elif name is not None:
                self.notify(f"Judging {printable(name)} …", timeout=2, markup=False)
                self.judge_other(paths[name])

        question = "Lay this session over"
        chosen = self.review.other_name
        self.app.push_screen(ChooseScreen(question, choices, chosen, words_alone=True), take)

    def lay_over(self, other: Judged | None, name: str) -> None:
        """Show the differences from another session; raises BadInput for another pattern."""
        self.review.lay_over(other, name)
        self.set_class(other is not None, "-over")
        self.call_after_refresh(self.refresh_map)
