"""The loop of a session: listens, clicks, judges, records and reports, turn by turn.

It joins a live session with a source of hits, a click and a journal, in real or simulated time. All
decisions are the session's; the loop only carries them out. One turn takes some 20 microseconds
and turns follow each other within a millisecond, so a stroke is seen at once; its time is the
driver's in any case. Between turns it asks journal, source and click for news that no stroke
brings.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, Any, Protocol

from trainer.archive.session import RungResult, SentClick, SessionMark
from trainer.kit.hits import Strike
from trainer.practice.click_figure import BETWEEN_CLICK
from trainer.practice.events import (
    Command,
    Event,
    Notice,
    PassCut,
    PassStarted,
    Paused,
    Resumed,
    RungEnded,
)
from trainer.practice.routine import RestReminder

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.engine.clock import Clock
    from trainer.midi.click import Click, StrokeSounds
    from trainer.midi.hit_source import Control, HitSource, SourceEvent
    from trainer.midi.midi_clock import ClockOut
    from trainer.practice.click_figure import DueClick
    from trainer.practice.course import Pass
    from trainer.practice.live import LiveSession


NEWS_EVERY_S = 0.5
"""How often the disk and the click are asked at most."""


class News:
    """Gathers news; an output that went away is reported once, and once when it is back."""

    def __init__(self, record: Record, source: HitSource, outputs: dict[str, Any]) -> None:
        self._record, self._outputs = record, outputs
        self._source = source
        self._next_s = 0.0
        self._lost: frozenset[str] = frozenset()

    def events(self, now: float) -> list[Event]:
        """Return what is new, when it is time to ask again."""
        if now < self._next_s:
            return []
        self._next_s = now + NEWS_EVERY_S
        found: list[Event] = [Notice(text, "warning") for text in self._record.news()]
        return [*found, *map(Notice, self._source.news()), *self._output_news()]

    def _output_news(self) -> list[Event]:
        outputs = self._outputs.items()
        before, lost = self._lost, {name for name, one in outputs if getattr(one, "lost", False)}
        self._lost = frozenset(lost)
        named = {name: f"{name} ({one.name})" for name, one in outputs if one}
        gone = "{} is gone; playing continues"
        return [
            *(Notice(gone.format(named[name]), "warning") for name in sorted(lost - before)),
            *(Notice(f"{named[name]} is back") for name in sorted(before - lost)),
        ]


MOST_AT_ONCE = 8
"""Strokes judged in one turn; more of them wait their turn, so that no flood holds up the click."""

CATCH_UP_ROUNDS = 250
"""Rounds in which strikes are still read before the pass is cut."""


class Record(Protocol):
    """Where the session is written down while it is played (`trainer.archive.journal.Journal`)."""

    def pass_started(self, one: Pass) -> None:
        """A pass is laid out."""
        ...

    def cut(self, pass_index: int, at_s: float) -> None:
        """A pass was interrupted."""
        ...

    def strike(self, strike: Strike) -> None:
        """A strike that is judged."""
        ...

    def idle(self, strike: Strike) -> None:
        """A strike while nothing was due."""
        ...

    def control(self, control: Control) -> None:
        """A controller or choke."""
        ...

    def click(self, click: SentClick) -> None:
        """A click was sent."""
        ...

    def rung(self, rung: RungResult) -> None:
        """A rung ended."""
        ...

    def mark(self, mark: SessionMark) -> None:
        """Playing stopped or continued."""
        ...

    def news(self) -> list[str]:
        """What the player should know about the writing."""
        ...


STARTING = ("resume", "toggle", "restart", "next")
"""Commands that would continue playing."""

WHEN_BACK = "playing continues when it is back"


class SessionLoop:
    """Runs one session until it is over. Call `turn` again and again, or `run` once."""

    def __init__(
        self,
        session: LiveSession,
        source: HitSource,
        click: Click,
        record: Record,
        clock: Clock,
        show: Callable[[list[Event]], None],
        commands: Callable[[], Sequence[Command]] = tuple,
        clock_out: ClockOut | None = None,
        sounds: StrokeSounds | None = None,
    ) -> None:
        self.session, self.source, self.click = session, source, click
        self.record, self.clock, self.clock_out = record, clock, clock_out
        self.sounds = sounds
        self._show, self._commands = show, commands
        self._waiting: deque[tuple[Strike, bool]] = deque()
        self._due_s = 0.0
        self._news = News(record, source, {"the click": click, "the sound": sounds})
        self._trouble = ""
        self._resume_then = False
        self._plugged_s = float("-inf")
        self._stretch = RestReminder()

    def start(self) -> None:
        """Begin the session: the first count-in is set."""
        self._carry_out(self.session.start(self.clock.now()))

    def run(self) -> None:
        """Start and take turns until the session is over."""
        self.start()
        while not self.session.over:
            self.turn()

    def turn(self) -> None:
        """Do what is due, read strokes and commands, and wait for the next thing."""
        now = self.clock.now()
        events = self._after_stall(now)
        self._send_clicks(now)
        if self.clock_out:
            self.clock_out.turn(now)
        events += self._hear(self.source.poll(now), now)
        asked = self._commands()
        # Whatever was struck before the player requested something comes before it.
        events += self._catch_up(now) if asked else self._judge(now, MOST_AT_ONCE)
        events += self._plugged(now)
        for command in asked:
            events += self._command(command, now)
        if now >= self._due_s:
            heard_s = self._waiting[0][0].time_s if self._waiting else now
            events += self.session.advance(now, heard_s)
        events += self._news.events(now)
        self._carry_out(events)
        self.clock.wait_until(now if self._waiting else min(self._due_s, self._next_send_s()))

    def _hear(self, made: Sequence[SourceEvent], now: float) -> list[Event]:
        """Write down at once what arrived; a strike is judged when its turn comes.

        Whether it is part of the take is decided here. A pad that acts as a key may change that for
        the strikes after it, so it acts, and all before it are judged, before they are heard.
        """
        events: list[Event] = []
        for one in made:
            if not isinstance(one, Strike):
                self.record.control(one)
                choke = one.kind == "choke"
                grabbed = choke and self.session.chokes.read(one.number, one.value, one.time_s)
                if not grabbed or not self.session.judges(grabbed):
                    continue
                one = grabbed
            elif self.sounds:
                self.sounds.strike(one)
            judged = self.session.judges(one)
            if judged:
                self.record.strike(one)
            else:
                self.record.idle(one)
            self._waiting.append((one, judged))
            if not judged and self.session.is_key(one):
                events += self._judge(now, len(self._waiting))
        return events

    def _catch_up(self, now: float) -> list[Event]:
        """Judge all strikes that wait, and those that come meanwhile: they are written down too."""
        events: list[Event] = []
        for _ in range(CATCH_UP_ROUNDS):
            events += self._judge(now, MOST_AT_ONCE)
            if not self._waiting:
                break
            events += self._hear(self.source.poll(self.clock.now()), now)
        return events + self._judge(now, len(self._waiting))

    def _judge(self, now: float, most: int) -> list[Event]:
        """Judge strikes that wait, oldest first, at most `most`: the click must not wait."""
        events: list[Event] = []
        for _ in range(min(most, len(self._waiting))):
            strike, judged = self._waiting.popleft()
            events += self.session.judge(strike) if judged else self.session.idle(strike, now)
            events += self._stretch.stroke(strike.time_s)
        return events

    def _next_send_s(self) -> float:
        """When the next click or clock is to be sent."""
        click_s = self.session.next_click_s - self.click.lead_s
        return min(click_s, self.clock_out.next_s) if self.clock_out else click_s

    def _send_clicks(self, now: float) -> None:
        if now < self.session.next_click_s - self.click.lead_s:
            return
        for due in self.session.clicks(now + self.click.lead_s):
            if not due.silent:
                self._click(due)
            elif due.kind != BETWEEN_CLICK:
                self.record.mark(SessionMark("silent", due.time_s))

    def _click(self, due: DueClick) -> None:
        late_s = self.click.send(due.kind, due.time_s) - due.time_s
        self.session.click_sent(late_s)
        self.record.click(SentClick(due.time_s, late_s))

    def _command(self, command: Command, now: float) -> list[Event]:
        if command.name == "key":
            pressed_s = command.amount - self.clock.zero_s if command.amount else now
            self.source.press(command.text, min(now, pressed_s))
            return []
        if self._trouble and command.name in STARTING:
            # Nothing could arrive, and every stroke would count as missed.
            self._resume_then = True
            return [Notice(f"{self.source.name} {self._trouble}; {WHEN_BACK}", "warning")]
        return self.session.command(command, now)

    def _plugged(self, now: float) -> list[Event]:
        """Pause when the kit goes away, continue when it is back."""
        before, self._trouble = self._trouble, self._source_trouble()
        if self._trouble == before:
            return []
        name = self.source.name
        what = f"{name} {self._trouble}"
        if before and self._trouble:
            return [Notice(what, "warning")]
        self.record.mark(SessionMark("unplugged" if self._trouble else "plugged", now, name))
        if self._trouble:
            self._resume_then = not self.session.paused
            return [
                Notice(f"{what}; {WHEN_BACK}", "warning"),
                *self._catch_up(now),
                *self.session.unplugged(now, what),
            ]
        self._plugged_s = now
        back: list[Event] = [Notice(f"{name} is back")]
        if self._resume_then:
            back += self.session.command(Command("resume"), now)
        return back

    def _source_trouble(self) -> str:
        """What is wrong with the source in words; empty while it is there."""
        return (self.source.trouble or "is gone") if self.source.lost else ""

    def _after_stall(self, now: float) -> list[Event]:
        """Interrupt what ran while the program was too slow, and start it again."""
        lost_s = self.clock.lost_s()
        if not lost_s or now - lost_s <= self._plugged_s:
            return []  # connecting again takes time, and nothing ran meanwhile
        self.record.mark(SessionMark("stall", now, "the program was too slow", lost_s))
        if self.session.paused:
            return []
        text = f"the program stopped for {lost_s:.1f} s; the pass starts again"
        before = self._catch_up(now)
        return [*before, Notice(text, "warning"), *self.session.restart(now, "held up")]

    def _carry_out(self, events: list[Event]) -> None:
        """Write down what belongs in the record, let the source know, and report all of it."""
        if not events:
            self._due_s = self.session.next_due(self.clock.now())
            return
        for event in events:
            self._write(event)
        self._due_s = self.session.next_due(self.clock.now())
        self._show(events)

    def _write(self, event: Event) -> None:
        if self.clock_out:
            self.clock_out.hear(event, self.clock.now())
        match event:
            case PassStarted():
                self.record.pass_started(self.session.passes[event.pass_index])
                self.source.expect(self.session.targets(event.pass_index))
            case PassCut():
                self.record.cut(event.pass_index, event.at_s)
                self.source.expect(())
            case Paused():
                self.record.mark(SessionMark("pause", event.time_s, event.reason))
            case Resumed():
                self.record.mark(SessionMark("resume", event.time_s))
            case RungEnded():
                result = event.rung, event.tempo, event.clean, event.failed
                self.record.rung(
                    RungResult(*result, self.clock.now(), event.tightest, event.strokes)
                )
