"""What the player should be told that no stroke brings: by writing, source and click."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from trainer.practice.events import Event, Notice

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.midi.click import Click
    from trainer.midi.source import HitSource

NEWS_S = 0.5
"""How often at most anybody is asked."""


class Writing(Protocol):
    """What is asked of the journal."""

    def news(self) -> list[str]:
        """What the player should be told about the writing."""
        ...


class News:
    """Gathers news; a click that went away is told once, and again when it is back."""

    def __init__(self, record: Writing, source: HitSource, click: Click) -> None:
        self._record, self._click = record, click
        self._source_news: Callable[[], list[str]] = getattr(source, "news", list)
        self._next_s = 0.0
        self._silent = False

    def events(self, now: float) -> list[Event]:
        """Return what is new, when it is time to ask again."""
        if now < self._next_s:
            return []
        self._next_s = now + NEWS_S
        told: list[Event] = [Notice(text, "warning") for text in self._record.news()]
        return [*told, *map(Notice, self._source_news()), *self._click_news()]

    def _click_news(self) -> list[Event]:
        before, self._silent = self._silent, bool(getattr(self._click, "lost", False))
        if self._silent == before:
            return []
        where = f"the click ({self._click.name})"
        if self._silent:
            return [Notice(f"{where} cannot be heard any more; playing goes on", "warning")]
        return [Notice(f"{where} is back")]
