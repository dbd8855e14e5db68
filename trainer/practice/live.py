"""A session as it is played: the state that turns time, strikes and commands into events.

Pure: time is an argument (seconds on the session's clock), nothing waits or sleeps here. The
engine's loop calls `advance` when `next_due` has come, `strike` for every strike, `command` for
what the player asks, and sends the clicks that `clicks` hands out.

A pass is laid out at least LEAD_S and at most a beat or so before its first beat: only then is it
part of the course. A pause, a restart, a lost kit or a stall cuts it off right after the last
stroke heard, so that nothing in the gap counts as missed. After a pause it continues with the bar
that was being played, after a restart or a stall it is played again from its start.
"""

from __future__ import annotations

from collections import deque
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from trainer.kit.model import ChokeReader
from trainer.practice.course import (
    NEVER,
    ClickSchedule,
    Pass,
    beat_time,
    count_in_seconds,
    pass_targets,
    seconds_per_quarter,
)
from trainer.practice.events import (
    Command,
    Event,
    IdleHit,
    PadKeys,
    PassCut,
    PassEnded,
    PassStarted,
    Paused,
    RestStarted,
    Resumed,
    TempoChosen,
)
from trainer.practice.ledger import Ledger, laid_out
from trainer.practice.matcher import LiveTake, voices_used
from trainer.practice.outcomes import LiveVerdicts
from trainer.practice.plan import PassResult, SessionOptions

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.kit.hits import Strike
    from trainer.kit.model import Kit
    from trainer.pattern.model import Pattern
    from trainer.practice.click_figure import DueClick
    from trainer.practice.course import Target
    from trainer.practice.ledger import PassBook
    from trainer.practice.outcomes import Judged, Verdict
    from trainer.practice.plan import CleanVerdict, Step, TempoPlan

START_S = 1.0
"""When the first count-in begins, where the session is ready by then."""

READY_S = 0.3
"""The least time between a start or a resume and the first beat of its count-in."""

LEAD_S = 0.25
"""A pass is laid out a beat before it starts, and at least this long before."""

SETTLE_S = 0.050
"""How often open hits and targets are settled."""


class LiveSession:
    """One session: a pattern, a kit and a plan, in time."""

    def __init__(
        self,
        pattern: Pattern,
        kit: Kit,
        plan: TempoPlan,
        check: Callable[[Judged], CleanVerdict] | None = None,
        options: SessionOptions | None = None,
    ) -> None:
        self.pattern, self.kit, self.plan, self.check = pattern, kit, plan, check
        self.options = options or SessionOptions()
        self.passes: list[Pass] = []
        self.paused = False
        self.over = False
        self.stopped = False
        self._take = LiveTake(kit, pattern)
        self._ledger = Ledger(pattern)
        self.shown = LiveVerdicts()
        self._used = voices_used(pattern)
        self.chokes = ChokeReader(kit, {note.voice for note in pattern.notes if note.choke})
        self._coming: tuple[Step, float] | None = None
        self._lay_out_s = self._ask_s = NEVER
        self._again: deque[Step] = deque()
        self._asked_after = -1
        self._schedule = ClickSchedule(pattern, self.options.click)
        self._lateness: deque[float] = deque(maxlen=64)
        self._next_settle = NEVER
        self._pad_keys = PadKeys(self.options.pad_keys or {}, kit, self._used)

    # Time

    def start(self, now: float) -> list[Event]:
        """Begin: the first count-in starts at START_S, or a little after `now`."""
        return self._begin_next(max(now, START_S - READY_S))

    def next_due(self, now: float) -> float:
        """Return the second `advance` has something to do at."""
        due = min(self._next_settle, self._schedule.next_beat_s)
        if self._coming:
            due = min(due, self._lay_out_s)
        elif self._running():
            due = min(due, self._ask_s)
        return due

    def advance(self, now: float, heard_s: float = NEVER) -> list[Event]:
        """Do everything due by `now` and return what is to be reported.

        Strikes made up to `heard_s` have been handed over; nothing later is settled yet.
        """
        if self.over:
            return []
        events: list[Event] = [*self._schedule.beats(now)]
        while self._lay_out_next(now):
            events += self._lay_out()
        if now >= self._next_settle:
            events += self._settle(now, min(now, heard_s))
        return events

    def clicks(self, until_s: float) -> list[DueClick]:
        """Return the clicks due up to a second that have not been handed out yet."""
        return self._schedule.clicks(until_s)

    @property
    def next_click_s(self) -> float:
        """When the next click is due."""
        return self._schedule.next_click_s

    def click_sent(self, late_s: float) -> None:
        """Take in how late a click was really sent, in seconds."""
        self._lateness.append(late_s)

    # Strikes

    def judges(self, strike: Strike) -> bool:
        """Return True where a strike is part of the take: something is asked, and it is no key."""
        return self._asks(strike) and not self._pad_keys.is_key(strike, asked=True)

    def _asks(self, strike: Strike) -> bool:
        time_s = strike.time_s - self.kit.latency_s
        return any(book.listens(time_s) for book in self._ledger.books)

    def is_key(self, strike: Strike) -> bool:
        """Return True where a strike acts as a key."""
        return self._pad_keys.is_key(strike, asked=self._asks(strike))

    def judge(self, strike: Strike) -> list[Event]:
        """Judge a strike that was part of the take when it was heard (see `judges`)."""
        hit, verdicts = self._take.strike(strike)
        self._ledger.hit(hit)
        judged = self._enter(verdicts)
        if any(verdict.final for verdict in verdicts):
            judged.append(self.tally())
        return judged

    def idle(self, strike: Strike, now: float) -> list[Event]:
        """Take in a strike that is no part of the take, and let its pad act if it is a key."""
        pad = self.kit.pad(strike.note, self._used)
        time_s = strike.time_s - self.kit.latency_s
        heard = IdleHit(time_s, strike.note, strike.velocity, pad.voice if pad else None)
        pressed = self._pad_keys.press(strike) if self.is_key(strike) else None
        return [heard, *(self.command(pressed, now) if pressed else [])]

    # Commands

    def command(self, command: Command, now: float) -> list[Event]:
        """Do what the player asks; unknown commands are ignored."""
        name = command.name
        if name == "toggle" or (name == "next" and self.paused):
            name = "resume" if self.paused else "pause"
        if self.over:
            return []
        if name == "pause" and not self.paused:
            return self.pause(now, command.text or "pressed")
        if name == "resume" and self.paused:
            return self._resume(now)
        if name == "restart":
            return self.restart(now, command.text or "restarted")
        if name == "tempo":
            return [TempoChosen(self.plan.nudge(command.amount), self._tempo_changes_s())]
        if name == "quit":
            return self.quit(now)
        return []

    def pause(self, now: float, reason: str) -> list[Event]:
        """Stop where it is; the pass that runs is cut off and continues with this bar."""
        cut = self._cut(reason, now, continued=True)
        self.paused = True
        return [*cut, Paused(now, reason)]

    def unplugged(self, now: float, reason: str) -> list[Event]:
        """Pause because the kit is gone; what was asked since its last stroke is taken back."""
        if self.paused or self.over:
            return []
        at_s = self._ledger.heard_s + 0.001
        cut = self._cut_off(self._ledger.cut_unheard(at_s), at_s, reason)
        return [*cut, self.tally(), *self.pause(now, reason)]

    def _resume(self, now: float) -> list[Event]:
        self.paused = False
        bar = self._again[0].from_bar if self._again else 0
        return [Resumed(now, bar), *self._begin_again(now)]

    def restart(self, now: float, reason: str) -> list[Event]:
        """Cut the pass off and begin it again at once, at the tempo that now holds."""
        cut = self._cut(reason, now)
        self._again = deque(replace(step, from_bar=0) for step in self._again)
        return [*cut, *(self._resume(now) if self.paused else self._begin_again(now))]

    def quit(self, now: float) -> list[Event]:
        """End the session where it is: what is open is settled, then it is over."""
        self.stopped = True
        events = self._cut("stopped", now)
        events += self._enter(self._take.finish())
        self.over = True
        return [*events, *self._ledger.bars_over(NEVER), *self._close(now), self.tally()]

    def targets(self, pass_index: int) -> list[Target]:
        """Return the targets of a pass that is laid out and not yet settled."""
        for book in self._ledger.books:
            if book.one.index == pass_index:
                return book.targets
        return []

    def tally(self) -> Event:
        """Return the counts of the session so far."""
        return self._ledger.total.tally()

    # Passes

    def _running(self) -> bool:
        """True while a pass is laid out whose follower is not known yet."""
        return not self.paused and bool(self.passes) and self._asked_after < len(self.passes) - 1

    def _lead_s(self, tempo: float) -> float:
        return max(LEAD_S, seconds_per_quarter(self.pattern, tempo))

    def _lay_out_next(self, now: float) -> bool:
        """Find the pass that follows where it is time; return True when one is to be laid out."""
        if self._coming is None and now >= self._ask_s and self._running():
            self._asked_after = len(self.passes) - 1
            step = self._follows(now)
            if step:
                end_s = beat_time(self.pattern, self.passes[-1], self.pattern.length)
                self._come(step, end_s if step.at_s is None else step.at_s)
        return self._coming is not None and now >= self._lay_out_s

    def _come(self, step: Step, first_s: float) -> None:
        """Let a pass come whose first beat is at `first_s`: it is laid out a beat before that."""
        self._coming = (step, first_s)
        self._lay_out_s = first_s - self._lead_s(step.tempo)

    def _pass_of(self, step: Step, first_s: float) -> Pass:
        return laid_out(self.pattern, step, len(self.passes), first_s, self._click_late_s())

    def _tempo_changes_s(self) -> float | None:
        """Return when the pass ends that is laid out or to come; None without one."""
        if not self._coming and (self.paused or not self._ledger.books):
            return None
        last = self._pass_of(*self._coming) if self._coming else self.passes[-1]
        return beat_time(self.pattern, last, self.pattern.length)

    def _follows(self, now: float) -> Step | None:
        if self._again:
            return replace(
                self._again.popleft(), count_in_bars=0, rest_s=0.0, at_s=None, from_bar=0
            )
        return self.plan.follows(now)

    def _begin_next(self, now: float) -> list[Event]:
        """Begin the next step: a pass that was cut off first, else what the plan says."""
        step = self.plan.again(self._again.popleft(), now) if self._again else self.plan.next(now)
        if step is None:
            self.over = True
            return [self.tally()]
        bar = step.from_bar
        bars_s = count_in_seconds(self.pattern, step.tempo, step.count_in_bars, bar)
        count_in_s = now + READY_S + step.rest_s
        start_s = max(count_in_s + bars_s, step.at_s or 0.0)
        self._come(step, start_s)
        self._asked_after = len(self.passes) - 1
        self._schedule.count_in(len(self.passes), step.tempo, start_s, step.count_in_bars, bar)
        return [RestStarted(now, count_in_s, step.tempo)] if step.rest_s else []

    def _begin_again(self, now: float) -> list[Event]:
        """Begin what was cut off; what still waits to be settled continues."""
        waiting = self._ledger.books and not self._again
        return [] if waiting else self._begin_next(now)

    def _lay_out(self) -> list[Event]:
        """Make the coming pass part of the course."""
        assert self._coming
        step, first_s = self._coming
        self._coming = None
        one = self._pass_of(step, first_s)
        targets = pass_targets(self.pattern, one, self._ledger.targets)
        begun = one.index, one.rung, one.tempo, first_s, self._ledger.targets, len(targets)
        started = PassStarted(*begun, skipped_s=first_s - one.start_s)
        self.passes.append(one)
        # When the plan is asked what follows: a beat before the end, in time to lay it out.
        end_s = beat_time(self.pattern, one, self.pattern.length)
        self._ask_s = max(first_s - LEAD_S, end_s - self._lead_s(one.tempo))
        self._take.begin(targets)
        self._ledger.begin(one, step, targets)
        self._schedule.lay_out(one)
        self._next_settle = min(self._next_settle, first_s)
        return [started]

    def _click_late_s(self) -> float:
        """Median lateness of the last clicks; 0 before the first."""
        return sorted(self._lateness)[len(self._lateness) // 2] if self._lateness else 0.0

    def _cut(self, reason: str, now: float, *, continued: bool = False) -> list[Event]:
        """Interrupt what runs right after the last stroke heard, and keep it to be played again.

        `continued` lets the first of what is cut continue with the bar that is played now.
        """
        books = self._ledger.books
        at_s = max(self._ledger.heard_s + 0.001, books[0].opens_s) if books else 0.0
        cut = self._ledger.cut(at_s, now, continued=continued)
        if books:
            self._take.cut(at_s)
        again = [book.again for book in cut]
        if self._coming:
            again.append(self._coming[0])
            self._coming = None
        self._again.extendleft(reversed(again))
        self._schedule.clear()
        return self._cut_off(cut, at_s, reason)

    def _cut_off(self, books: list[PassBook], at_s: float, reason: str) -> list[Event]:
        for book in books:
            self.passes[book.one.index] = book.one
        return [PassCut(book.one.index, at_s, reason) for book in books]

    # Settling

    def _enter(self, verdicts: list[Verdict]) -> list[Event]:
        for verdict in verdicts:
            self.shown.add(verdict)
        reported = (self._ledger.enter(verdict) for verdict in verdicts)
        return [event for event in reported if event is not None]

    def _settle(self, now: float, heard_s: float) -> list[Event]:
        """Settle what can be settled; when nothing runs any more, begin what the plan says next."""
        if self._schedule.put_off(now):
            self._next_settle = self._schedule.next_click_s + 0.001
            return []
        events = self._enter(self._take.settle(heard_s))
        bars = self._ledger.bars_over(heard_s - max(0.0, self.kit.latency_s))
        closed = self._close(now)
        if events or bars:
            events += [self.tally(), *bars]
        events += closed
        self._next_settle = now + SETTLE_S if self._ledger.books else NEVER
        idle = not self._ledger.books and self._coming is None and not self._running()
        if idle and not self.paused and not self.over:
            events += self._begin_next(now)
        return events

    def _close(self, now: float) -> list[Event]:
        """Close the books of passes that are over and report how each went."""
        events: list[Event] = []
        for book in self._ledger.close():
            if book.one.end_s is None:
                events += self._pass_ended(book, now)
        return events

    def _pass_ended(self, book: PassBook, now: float) -> list[Event]:
        judged = book.judged()
        verdict = self.check(judged) if self.check and judged.targets else None
        clean: bool | None = verdict.clean if verdict else not book.counts.faults
        if not judged.targets:
            clean = None
        failed = tuple(str(one) for one in verdict.failed) if verdict else ()
        one = book.one
        figures = asdict(book.counts.tally())
        before = self._ledger.pieces_before(one)
        ended = PassEnded(one.index, one.rung, one.tempo, clean, failed, figures)
        return [ended, *self.plan.passed(PassResult(one, judged, bool(clean), failed, before), now)]
