"""A session that is longer than a file may be: it continues in another one, at a pass.

A file that is half full is followed by a new one when the next pass is laid out. Each is a session
of its own, with its own passes from 0 and its own summary, so that every reader takes it as it is.
Strokes of the last pass that are still due then go into its own file: what divides them is halfway
between its last stroke and the first one of the next pass. Files of earlier parts are closed by
threads, because no disk may hold up the playing, and get their summaries after the last part.
"""

from __future__ import annotations

import contextlib
import math
from dataclasses import replace
from datetime import timedelta
from threading import Thread
from typing import TYPE_CHECKING, Any

from trainer.archive.journal import Journal
from trainer.errors import TrainerError
from trainer.practice.course import pass_targets

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from trainer.archive.session import RungResult, SentClick, Session, SessionHeader, SessionMark
    from trainer.kit.hits import Strike
    from trainer.midi.hit_source import Control
    from trainer.practice.course import Pass

CONTINUES = "The file of this session is half full; it continues in another file."


class LongJournal:
    """Writes a session down as `Journal` does, into as many files as it takes.

    `full` is True once the session has to end all the same: it lasts too long, or one pass alone
    fills a file. `session` and `finish` are about the last part.
    """

    def __init__(
        self, folder: Path, header: SessionHeader, *, elsewhere: Sequence[Path] | None = None
    ) -> None:
        self._folder, self._header, self._elsewhere = folder, header, elsewhere
        self._now = Journal(folder, header, elsewhere=elsewhere)
        self._before: Journal | None = None
        self._first, self._first_before = 0, 0
        self._last_pass: Pass | None = None
        self._divide_s = -math.inf
        self._closing: list[tuple[Thread, Journal]] = []

    @property
    def path(self) -> Path | None:
        """Where the last part is being written; None while it is only in memory."""
        return self._now.path

    @property
    def full(self) -> bool:
        """Whether the session has to end."""
        return self._now.full

    @property
    def continued(self) -> bool:
        """Whether there are earlier parts in other files."""
        return bool(self._first)

    @property
    def unplayed(self) -> bool:
        """Whether no stroke of the take was written down."""
        return not self.continued and self._now.unplayed

    def discard(self) -> None:
        """Close and remove the file: nothing was played."""
        self._now.discard()

    def news(self) -> list[str]:
        """Return what is new for the player since the last call."""
        parts = [*(one for _, one in self._closing), self._before, self._now]
        return [text for part in parts if part for text in part.news()]

    def pass_started(self, one: Pass) -> None:
        """A pass is laid out, in a new file where this one is half full."""
        if self._last_pass and self._now.half_full and one.index > self._first:
            self._continue(self._last_pass, one)
        elif self._before:
            self._let_go()
        self._last_pass = one
        self._now.pass_started(replace(one, index=one.index - self._first))

    def cut(self, pass_index: int, at_s: float) -> None:
        """A pass ends early: targets due at or after `at_s` are not judged."""
        if pass_index >= self._first:
            self._now.cut(pass_index - self._first, at_s)
        elif self._before and pass_index >= self._first_before:
            self._before.cut(pass_index - self._first_before, at_s)

    def strike(self, strike: Strike) -> None:
        """A raw strike, as it was stamped."""
        of_before = self._before and strike.time_s < self._divide_s
        (self._before if self._before and of_before else self._now).strike(strike)

    def idle(self, strike: Strike) -> None:
        """A raw strike while nothing was due: kept, and never judged."""
        self._now.idle(strike)

    def control(self, control: Control) -> None:
        """A controller or choke."""
        self._now.control(control)

    def click(self, click: SentClick) -> None:
        """A click went out."""
        self._now.click(click)

    def timing(self, timing: dict[str, Any]) -> None:
        """How well time was kept."""
        self._now.timing(timing)

    def rung(self, rung: RungResult) -> None:
        """A rung has its result."""
        self._now.rung(rung)

    def mark(self, mark: SessionMark) -> None:
        """Playing stopped or continued."""
        self._now.mark(mark)

    def session(self) -> Session:
        """Return the last part as far as it was written down."""
        return self._now.session()

    def finish(self, summary: dict[str, Any], clean_tempo: float | None = None) -> Path | None:
        """Write the last line of the last part and close all; return where that part is."""
        path = self._now.finish(summary, clean_tempo)
        self.close()
        return path

    def close(self) -> None:
        """Close all parts; the next start finishes one that has no last line."""
        if self._before:
            self._let_go()
        self._now.close()
        for thread, _ in self._closing:
            thread.join()

    def finish_earlier(self) -> None:
        """Give the earlier parts their summaries; the next start does it where this one ends."""
        from trainer.archive.recovery import finish_file

        for _, part in self._closing:
            if part.path:
                with contextlib.suppress(OSError, TrainerError):
                    finish_file(part.path, cut_off=False)

    def _continue(self, last: Pass, one: Pass) -> None:
        """Begin a new file with a pass."""
        if self._before:
            self._let_go()
        pattern = self._header.pattern
        # Where nothing is written, the passes meet at the start of the second.
        due = [target.time_s for target in pass_targets(pattern, last, 0)]
        coming = [target.time_s for target in pass_targets(pattern, one, 0)]
        last_s, first_s = max(due, default=one.begins_s), min(coming, default=one.begins_s)
        self._divide_s = min((last_s + first_s) / 2, first_s) + self._header.kit.latency_s
        self._before, self._first_before, self._first = self._now, self._first, one.index
        header = replace(
            self._header, started=self._header.started + timedelta(seconds=one.start_s)
        )
        self._now = Journal(self._folder, header, elsewhere=self._elsewhere, at_once=False)
        self._before.add_news(CONTINUES)

    def _let_go(self) -> None:
        """Close the file of the part before, without waiting for the disk."""
        assert self._before
        thread = Thread(target=self._before.close, name="journal end", daemon=True)
        thread.start()
        self._closing.append((thread, self._before))
        self._before = None
