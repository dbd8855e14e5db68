"""The app that holds the screens of practice, and how it ends.

`make_live_app` builds an app without running it, for the commands and for the tests.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.practice import events
from trainer.screens.around import ALONE
from trainer.screens.base import TrainerApp
from trainer.screens.feed import Feed
from trainer.screens.live import LiveScreen
from trainer.screens.messages import Asked
from trainer.screens.summary import SummaryScreen

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.pattern.model import Pattern
    from trainer.screens.around import Around
    from trainer.screens.feed import Handle
    from trainer.screens.pads import Steering


class LiveApp(TrainerApp[events.Finished]):
    """Practising, then the summary."""

    def __init__(
        self,
        screen: LiveScreen,
        handle: Handle,
        tell: Callable[[events.Finished], list[str]],
        steering: Steering | None = None,
        around: Around = ALONE,
    ) -> None:
        super().__init__()
        # Where no pad is heard after the end, none is named there.
        self._around = around if steering else replace(around, pads="")
        self._steering = steering
        self.live = screen
        self.handle = handle
        self.finished: events.Finished | None = None
        self._tell = tell
        self._feed = Feed(handle, self._hear, self._engine_gone)

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
    title: str, lines: Sequence[str], finished: events.Finished, around: Around
) -> SummaryScreen:
    """Return the summary of a session; its picture goes beside the session's file."""
    pictures = Path(finished.path).with_suffix("") if finished.path else None
    if finished.stopped:
        around = ALONE  # The player left: nothing follows by itself.
    return SummaryScreen(
        title, lines, finished.path, summary=finished.summary, pictures=pictures, around=around
    )


def make_live_app(
    pattern: Pattern,
    handle: Handle,
    *,
    tempo: float | None = None,
    passes: int | None = None,
    steering: Steering | None = None,
    around: Around = ALONE,
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
    from trainer.archive import climbed
    from trainer.measure import words

    return [*climbed.lines(climbed.climbed(finished.path)), *words.lines(finished.summary)]
