"""A job for the engine: everything a session needs, with nothing opened yet; and the engine itself.

A job is pickled and sent to the engine's process, which opens ports and files there. It can also be
run in this process, in real or in simulated time, by the same code.
"""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer.archive.long_journal import LongJournal
from trainer.archive.session import SessionHeader
from trainer.archive.summary import clean_tempo, judge_session, summary_of
from trainer.engine.clock import RealClock, SimulatedClock, ahead_of_others
from trainer.engine.loop import SessionLoop
from trainer.fault_report import reported
from trainer.practice.events import Command, Event, Finished, Notice, PassEnded
from trainer.practice.live import LiveSession
from trainer.practice.plan import SessionOptions

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from trainer.kit.model import Kit
    from trainer.midi.click import Click, StrokeSounds
    from trainer.midi.hit_source import HitSource
    from trainer.midi.midi_clock import ClockOut
    from trainer.pattern.model import Pattern
    from trainer.practice.outcomes import Judged
    from trainer.practice.plan import CleanVerdict, TempoPlan


TIMING_S = 10.0
"""How often at most the figures of timing are written while somebody plays."""

CORRECTED = "corrected after the fact."
"""Ends the notice about strokes whose outcome the whole session changed."""


@dataclass(frozen=True, slots=True)
class Job:
    """One session to be played.

    `folder` is where it is saved. `check` judges whole passes, `tolerance` says in plain values how
    strictly. `course` is kept in the file's header: the chosen settings. `simulated` runs in
    simulated time; the source must then be a simulated player. `clock_out` sends a MIDI clock,
    `sounds` lets strokes be heard.
    """

    pattern: Pattern
    kit: Kit
    plan: TempoPlan
    source: HitSource
    click: Click
    folder: Path
    check: Callable[[Judged], CleanVerdict] | None = None
    options: SessionOptions = field(default_factory=SessionOptions)
    player: str = ""
    tolerance: dict[str, Any] = field(default_factory=dict)
    course: dict[str, Any] = field(default_factory=dict)
    simulated: bool = False
    clock_out: ClockOut | None = None
    sounds: StrokeSounds | None = None


class Engine:
    """A job that runs: ports and the journal open, the loop ready to turn.

    `show` gets every batch of events, `commands` gives what the player wants. Raises
    BadInput where a port cannot be opened.
    """

    def __init__(
        self,
        job: Job,
        show: Callable[[list[Event]], None],
        commands: Callable[[], Sequence[Command]] = tuple,
    ) -> None:
        self.job, self._show = job, show
        self._timing_s = 0.0
        due = getattr(job.source, "due", None)
        self.clock = SimulatedClock(due) if job.simulated and due else RealClock()
        self._open()
        header = SessionHeader(
            pattern=job.pattern,
            started=datetime.now().astimezone(),
            kit=job.kit,
            player=job.player,
            source=job.source.name,
            tolerance=job.tolerance,
            course=job.course,
        )
        self.journal = LongJournal(job.folder, header)

        def asked() -> list[Command]:
            return [
                *commands(),
                *job.source.wishes(),
                *([Command("quit")] if self.journal.full else []),
            ]

        self.loop = SessionLoop(
            LiveSession(job.pattern, job.kit, job.plan, job.check, job.options),
            job.source,
            job.click,
            self.journal,
            self.clock,
            self._reported,
            asked,
            job.clock_out,
            job.sounds,
        )

    @property
    def session(self) -> LiveSession:
        """The session being played."""
        return self.loop.session

    def _reported(self, events: list[Event]) -> None:
        """Report events; after a pass write down how time was kept, should the end never come."""
        self._show(events)
        now = self.clock.now()
        if now >= self._timing_s and any(isinstance(one, PassEnded) for one in events):
            self.journal.timing(self._timing())
            self._timing_s = now + TIMING_S

    def run(self) -> None:
        """Play the session to its end and save it."""
        way = contextlib.nullcontext() if self.job.simulated else ahead_of_others()
        try:
            with way:
                self.loop.run()
        except Exception as error:  # noqa: BLE001  what was played is saved, whatever failed
            self._show([Notice(str(reported(error)), "warning")])
        finally:
            self.finish()

    def _ends(self) -> list[Any]:
        """Everything that is opened at the start and closed at the end."""
        job = self.job
        return [job.source, job.click, *(one for one in (job.clock_out, job.sounds) if one)]

    def _open(self) -> None:
        try:
            for end in self._ends():
                end.open(self.clock.zero_s)
        except BaseException:
            self._close()
            raise

    def _close(self) -> None:
        for end in self._ends():
            end.close()

    def _timing(self) -> dict[str, Any]:
        """Return how well time was kept; stroke times are good to `resolution_ms`."""
        source, click = self.job.source, self.job.click
        timing = {"source": source.quality(), "click": click.quality()}
        if self.job.clock_out:
            timing["clock_out"] = self.job.clock_out.quality()
        if self.job.sounds:
            timing["sounds"] = self.job.sounds.quality()
        return timing | ({"resolution_ms": finest} if (finest := source.resolution_ms) else {})

    def finish(self) -> None:
        """Close the ports, compute the summary, save, and report that it is over."""
        self._close()
        if self.journal.unplayed:
            self._end_unplayed()
        else:
            self._save()
        self.journal.finish_earlier()

    def _save(self) -> None:
        self.journal.timing(self._timing())
        session = self.journal.session()
        take = judge_session(session)
        # What was shown counts from the first part on; the last one alone does not compare.
        corrected = 0 if self.journal.continued else self.session.shown.differences(take)
        self.journal.timing({"shown_otherwise": corrected})
        summary = summary_of(session, take)
        path = self.journal.finish(summary, clean_tempo(session, take))
        news: list[Event] = [Notice(text, "warning") for text in self.journal.news()]
        if self.job.sounds and (words := self.job.sounds.words()):
            news.append(Notice(words))
        if corrected:
            of = f"{corrected} of {len(take.hits)} strokes"
            news.append(Notice(f"{of} {CORRECTED}"))
        self._show([*news, Finished(str(path) if path else None, summary, self.session.stopped)])

    def _end_unplayed(self) -> None:
        """Keep nothing where nothing was played, and say so."""
        summary = summary_of(session := self.journal.session(), judge_session(session))
        self.journal.discard()
        news = [Notice(text, "warning") for text in self.journal.news()]
        self._show([*news, Finished(None, summary, self.session.stopped, unplayed=True)])
