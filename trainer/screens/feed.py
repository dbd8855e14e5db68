"""Brings the practice loop's events to the screen the moment they arrive.

The event loop watches the handle's file descriptor; where it cannot (Windows, or a handle without
one) a timer looks often enough to be felt as at once.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.app import App
    from textual.timer import Timer

    from trainer.practice.events import Command, Event

LOOK_S = 1 / 60


class Handle(Protocol):
    """The screen's end of the practice loop."""

    def fileno(self) -> int:
        """Return a descriptor that is readable when events wait, or a negative number."""
        ...

    def poll(self) -> list[Event]:
        """Return the events that wait; raises EOFError when there will be no more."""
        ...

    def send(self, command: Command) -> None:
        """Hand a command to the practice loop."""
        ...

    def close(self) -> None:
        """Let the practice loop go."""
        ...


class Feed:
    """Calls `hear` with new events, and `ended` once when the other side is gone."""

    def __init__(
        self,
        handle: Handle,
        hear: Callable[[Sequence[Event]], None],
        ended: Callable[[], None],
    ) -> None:
        self._handle = handle
        self._hear = hear
        self._ended = ended
        self._descriptor = -1
        self._timer: Timer | None = None

    def start(self, app: App[object]) -> None:
        """Begin to listen."""
        try:
            self._descriptor = self._handle.fileno()
            if self._descriptor < 0:
                raise NotImplementedError
            asyncio.get_running_loop().add_reader(self._descriptor, self._take)
        except (NotImplementedError, OSError, ValueError):
            self._descriptor = -1
            self._timer = app.set_interval(LOOK_S, self._take)

    def stop(self) -> None:
        """Listen no more."""
        if self._descriptor >= 0:
            asyncio.get_running_loop().remove_reader(self._descriptor)
            self._descriptor = -1
        if self._timer is not None:
            self._timer.stop()
            self._timer = None

    def _take(self) -> None:
        try:
            heard = self._handle.poll()
        except (EOFError, OSError):
            self.stop()
            self._ended()
            return
        if heard:
            self._hear(heard)
