"""The tempo ladder as a plan of a session: rung after rung, against the clock on the wall.

A rung is the pattern some times over at one tempo. Its verdict comes from all its passes together;
the ladder's rule then says where to go. Between rungs there are a few quiet seconds to look up and
breathe, and the rest breaks that were asked for. A rung that could not end before the bell is not
begun.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.practice.course import MAX_TEMPO, MIN_TEMPO, seconds_per_quarter
from trainer.practice.events import RungEnded
from trainer.practice.ladder import STEADY, Ladder, after, begin, check
from trainer.practice.plan import Step

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.pattern.model import Pattern
    from trainer.practice.events import Event
    from trainer.practice.outcomes import Judged
    from trainer.practice.plan import PassResult


BREATH_S = 3.0
"""Quiet between two rungs: long enough to read the verdict with the sticks in the hands."""

STROKES_A_RUNG = 64
"""A rung holds at least this many strokes where nobody says how many passes: fewer say little."""


@dataclass(frozen=True, slots=True)
class Clockwork:
    """The ladder's times: minutes in all (None: until the top), and the breaks inside them."""

    minutes: float | None = 20.0
    rest_every_minutes: float | None = None
    rest_s: float = 60.0
    count_in_bars: int = 1


def check_clockwork(clockwork: Clockwork) -> Clockwork:
    """Return the times, or raise BadInput for times in which nothing can be played."""
    for name, value in (
        ("minutes", clockwork.minutes),
        ("rest_every_minutes", clockwork.rest_every_minutes),
    ):
        if value is not None and not 0 < value <= 24 * 60:
            raise BadInput(
                f"{value:g} is not a number of minutes to practise",
                where=name.replace("_", " "),
                mend="choose more than 0 and at most 1440",
            )
    return clockwork


def passes_a_rung(pattern: Pattern) -> int:
    """Return how many passes hold STROKES_A_RUNG strokes, at least one."""
    return max(1, math.ceil(STROKES_A_RUNG / max(1, pattern.strokes)))


class LadderPlan:
    """Decides the passes of a ladder; see `trainer.practice.plan.TempoPlan`."""

    def __init__(
        self,
        pattern: Pattern,
        ladder: Ladder,
        judge: Callable[[Sequence[Judged]], tuple[bool, tuple[str, ...]]],
        passes: int | None = None,
        clockwork: Clockwork | None = None,
    ) -> None:
        self.pattern, self.ladder, self.judge = pattern, check(ladder), judge
        self.passes = passes or passes_a_rung(pattern)
        self.clockwork = check_clockwork(clockwork or Clockwork())
        self.standing = begin(ladder)
        self.rung = 0
        self._to_play = 0
        self._results: list[PassResult] = []
        self._began_s: float | None = None
        self._rested_s = 0.0
        self._topped = False

    def rung_s(self, tempo: float) -> float:
        """Return how long a rung takes at a tempo, with its count-in, in seconds."""
        quarter = seconds_per_quarter(self.pattern, tempo)
        count_in = self.clockwork.count_in_bars * float(self.pattern.meter.length)
        return (count_in + self.passes * float(self.pattern.length)) * quarter

    def seconds_left(self, now_s: float) -> float | None:
        """Return the seconds until the bell, None where there is none."""
        if self.clockwork.minutes is None:
            return None
        began = now_s if self._began_s is None else self._began_s
        return max(0.0, self.clockwork.minutes * 60 - (now_s - began))

    # What the session asks

    def follows(self, now_s: float) -> Step | None:
        """Return the rung's next pass, None when its last one runs."""
        if self._to_play == 0:
            return None
        self._to_play -= 1
        return Step(self.standing.tempo, self.rung)

    def next(self, now_s: float) -> Step | None:
        """Return the first pass of the rung to play, None when the ladder is over."""
        rest_s = self._rest_s(now_s)
        if self._over(now_s, rest_s):
            return None
        if self._began_s is None:
            self._began_s = self._rested_s = now_s
        if rest_s > BREATH_S:
            self._rested_s = now_s + rest_s
        self._to_play = self.passes - 1
        return Step(self.standing.tempo, self.rung, self.clockwork.count_in_bars, rest_s)

    def passed(self, result: PassResult, now_s: float) -> Sequence[Event]:
        """Gather a pass; after the rung's last one tell its verdict and where it goes."""
        self._results.append(result)
        if len(self._results) < self.passes:
            return ()
        results, self._results = self._results, []
        tempo, rung = self.standing.tempo, self.rung
        self.rung += 1
        if any(one.one.tempo != tempo for one in results):
            return ()  # The tempo was changed by hand inside the rung: it says nothing.
        clean, failed = self.judge([one.judged for one in results])
        self._topped = clean and tempo >= self.ladder.top and self.ladder.rule == STEADY
        self.standing = after(self.ladder, self.standing, clean)
        going_on = not self._over(now_s, self._rest_s(now_s))
        next_tempo = self.standing.tempo if going_on else None
        return (RungEnded(rung, tempo, clean, failed, next_tempo, self.seconds_left(now_s)),)

    def again(self, step: Step, now_s: float) -> Step:
        """Return a pass that was cut off as it is played again: counted in, at today's tempo."""
        return replace(
            step,
            tempo=self.standing.tempo,
            count_in_bars=self.clockwork.count_in_bars,
            rest_s=0.0,
        )

    def nudge(self, bpm: float) -> float:
        """Move the ladder's tempo by hand, within its range; return the tempo it now is."""
        low, high = max(MIN_TEMPO, self.ladder.bottom), min(MAX_TEMPO, self.ladder.top)
        self.standing = replace(
            self.standing, tempo=min(high, max(low, self.standing.tempo + bpm)), run=0
        )
        return self.standing.tempo

    # Times

    def _rest_s(self, now_s: float) -> float:
        """Seconds of quiet before the next rung: none before the first, a break when it is due."""
        if self._began_s is None:
            return 0.0
        every = self.clockwork.rest_every_minutes
        if every is not None and now_s - self._rested_s >= every * 60:
            return self.clockwork.rest_s
        return BREATH_S

    def _over(self, now_s: float, rest_s: float) -> bool:
        """True where the next rung could not end before the bell, or the top was clean."""
        left = self.seconds_left(now_s)
        too_late = left is not None and left < rest_s + self.rung_s(self.standing.tempo)
        # The first rung is always played: a bell before it would make a session of nothing.
        return self._topped or (too_late and self._began_s is not None)
