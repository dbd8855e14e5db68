"""The app of practice: the live screen fed with the practice loop's events, then the summary.

`make_live_app` builds an app without running it, for the commands and for the tests. The event loop
watches the handle's file descriptor; where it cannot (Windows, or a handle without one) a timer
looks often enough to be felt as at once.
"""

from __future__ import annotations

import asyncio
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from trainer.practice import events
from trainer.screens.common import Asked
from trainer.screens.live import LiveScreen
from trainer.screens.summary import SummaryScreen
from trainer.screens.trainer_app import TrainerApp
from trainer.show.session_progress import NO_FRAME

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual.app import App
    from textual.timer import Timer

    from trainer.midi.pad_steering import PadSteering
    from trainer.pattern.model import Pattern
    from trainer.practice.events import Command, Event
    from trainer.show.session_progress import SessionFrame


POLL_S = 1 / 60


class LoopHandle(Protocol):
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


class EventFeed:
    """Calls `hear` with new events, and `ended` once when the other side is gone."""

    def __init__(
        self,
        handle: LoopHandle,
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
            self._timer = app.set_interval(POLL_S, self._take)

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


class LiveApp(TrainerApp[events.Finished]):
    """Practising, then the summary."""

    def __init__(
        self,
        screen: LiveScreen,
        handle: LoopHandle,
        tell: Callable[[events.Finished], list[str]],
        steering: PadSteering | None = None,
        around: SessionFrame = NO_FRAME,
    ) -> None:
        super().__init__()
        # Where no pad is heard after the end, none is named there.
        self._around = around if steering else replace(around, pads="")
        self._steering = steering
        self.live = screen
        self.handle = handle
        self.finished: events.Finished | None = None
        self._tell = tell
        self._feed = EventFeed(handle, self._hear, self._engine_gone)

    def get_default_screen(self) -> LiveScreen:
        """Begin with the live screen."""
        return self.live

    def on_mount(self) -> None:
        """Listen once there is something to draw on."""
        self.call_after_refresh(self._feed.start, self)

    def on_unmount(self) -> None:
        """Let the practice loop go: it saves what it has. After a failure it plays on."""
        self._feed.stop()
        if not self.failure:
            self.handle.close()

    def _hear(self, heard: Sequence[events.Event]) -> None:
        self.live.hear(heard)
        for event in heard:
            if isinstance(event, events.Finished) and self.finished is None:
                self.finished = event
                self._feed.stop()
                lines = self._tell(event)
                self.push_screen(_summary_of(self.live.pattern.title, lines, event, self._around))
                self.steer_by(self._steering)

    def _engine_gone(self) -> None:
        """Say that playing ended by itself; what was played is on disk, stroke by stroke."""
        if self.finished is None:
            self.exit(message="the practice loop ended early; the session is saved up to there")

    def on_asked(self, message: Asked) -> None:
        """Hand a command over."""
        try:
            self.handle.send(message.command)
        except (OSError, EOFError):
            self._engine_gone()

    async def action_quit(self) -> None:
        """Quit; a session that still runs is ended and saved first."""
        if self.finished is None:
            self.on_asked(Asked(events.Command("quit")))
        else:
            self.exit(self.finished)


def _summary_of(
    title: str, lines: Sequence[str], finished: events.Finished, around: SessionFrame
) -> SummaryScreen:
    """Return the summary of a session; its picture goes beside the session's file."""
    pictures = Path(finished.path).with_suffix("") if finished.path else None
    if finished.stopped:
        around = NO_FRAME  # The player left: nothing follows by itself.
    return SummaryScreen(
        title, lines, finished.path, summary=finished.summary, pictures=pictures, around=around
    )


def make_live_app(
    pattern: Pattern,
    handle: LoopHandle,
    *,
    tempo: float | None = None,
    passes: int | None = None,
    steering: PadSteering | None = None,
    around: SessionFrame = NO_FRAME,
    ended: Callable[[events.Finished], object] = lambda _: None,
) -> LiveApp:
    """Build the app that practises a pattern with a running practice loop.

    `tempo` (BPM) is shown until the first beat; `passes` is None where practice has no set end.
    `steering` are the pads that are keys once it is over. `ended` hears of the end at once, before
    anybody has read the summary.
    """

    def tell(finished: events.Finished) -> list[str]:
        ended(finished)
        return closing_lines(finished)

    screen = LiveScreen(pattern, tempo or pattern.tempo, passes, around)
    return LiveApp(screen, handle, tell, steering, around)


def closing_lines(finished: events.Finished) -> list[str]:
    """Return what a session came to in words: its ladder where it had one, then its summary."""
    from trainer.archive.ceilings import read_ladder_result
    from trainer.show import ceiling_words, reading_words

    return [
        *ceiling_words.ladder_lines(read_ladder_result(finished.path)),
        *reading_words.reading_lines(finished.summary),
    ]
