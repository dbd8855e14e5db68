"""A live session with a made player, who strikes every target as the test says."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.model import Bar, Meter, Note, Pattern
from trainer.practice.events import (
    Command,
    PassCut,
    PassStarted,
)
from trainer.practice.live import LiveSession
from trainer.practice.plan import SessionOptions, SteadyPlan

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.practice.course import Target
    from trainer.practice.events import Event

FOUR = Meter()
PATTERN = Pattern(
    "eights",
    "Eights on two drums",
    bars=(Bar(Fraction(0), FOUR), Bar(Fraction(4), FOUR)),
    notes=tuple(
        Note(Fraction(half, 2), "snare" if half % 4 < 2 else "tom1", value="8")
        for half in range(16)
    ),
)
SNARE, TOM, CRASH = 38, 48, 49
NOTE = {"snare": SNARE, "tom1": TOM}


class Stage:
    """A session with a player who strikes every target as `offset` says (None: leaves it out)."""

    def __init__(
        self,
        passes: int | None = 2,
        tempo: float = 120.0,
        offset: Callable[[Target], float | None] = lambda target: 0.0,
        options: SessionOptions | None = None,
        pattern: Pattern = PATTERN,
    ) -> None:
        plan = SteadyPlan(tempo, passes)
        self.session = LiveSession(pattern, GENERAL_MIDI, plan, options=options)
        self.offset = offset
        self.to_play: list[Strike] = []
        self.strikes: list[Strike] = []
        self.events: list[Event] = []
        self.now = 0.0
        self._hear(self.session.start(0.0))

    def run(self, until_s: float = 1000.0) -> Stage:
        """Go on in time, never past the session's end."""
        while not self.session.over and self.now < until_s:
            strike_s = self.to_play[0].time_s if self.to_play else until_s
            self.now = min(until_s, strike_s, max(self.now, self.session.next_due(self.now)))
            while self.to_play and self.to_play[0].time_s <= self.now:
                self.strike(self.to_play.pop(0))
            self._hear(self.session.advance(self.now))
        return self

    def strike(self, strike: Strike) -> list[Event]:
        """Strike now."""
        if self.session.judges(strike):
            self.strikes.append(strike)
            return self._hear(self.session.judge(strike))
        return self._hear(self.session.idle(strike, self.now))

    def ask(self, name: str, amount: float = 0.0) -> list[Event]:
        """Give a command now."""
        return self._hear(self.session.command(Command(name, amount), self.now))

    def of(self, kind: type) -> list:
        """Events of one kind."""
        return [event for event in self.events if isinstance(event, kind)]

    def _hear(self, events: list[Event]) -> list[Event]:
        for event in events:
            if isinstance(event, PassStarted):
                for target in self.session.targets(event.pass_index):
                    late = self.offset(target)
                    if late is not None:
                        note = NOTE[target.note.voice]
                        self.to_play.append(Strike(target.time_s + late, note, 90))
            if isinstance(event, PassCut):
                self.to_play.clear()
        self.events += events
        return events
