"""The ladder as the plan of a session: how long a rung is, when the next one begins, and the bell.

A rung is the pattern some times over at one tempo, with one verdict on all its passes together.
Where the player did not choose how many, it lasts as long as the answer needs: `FEWEST_STROKES` at
least and some `MOST_STROKES` at most (`trainer.measure.clean`). Between rungs there are a few quiet
seconds, and the breaks the player chose. A rung that could not end before the time is up is not
begun, and one that could still grow ends there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

from trainer.errors import BadInput
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.practice.course import count_in_seconds, pattern_seconds
from trainer.practice.events import RungEnded
from trainer.practice.ladder import (
    AIMED,
    LONGER,
    STEADY,
    Ladder,
    RungVerdict,
    check_ladder,
    first_standing,
    next_standing,
)
from trainer.practice.plan import Step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.model import Pattern
    from trainer.practice.events import Event
    from trainer.practice.outcomes import Judged
    from trainer.practice.plan import PassResult

BREATH_S = 3.0
"""Quiet between two rungs: long enough to read the verdict with the sticks in the hands."""

FEWEST_STROKES, MOST_STROKES = 32, 192
"""Strokes of a rung whose length nobody chose: before the first look, and about the longest."""


@dataclass(frozen=True, slots=True)
class LadderTimes:
    """The ladder's times: minutes in all (None: until the top), and the breaks inside them."""

    minutes: float | None = 20.0
    rest_every_minutes: float | None = None
    rest_s: float = 60.0
    count_in_bars: int = 1


def check_ladder_times(clockwork: LadderTimes) -> LadderTimes:
    """Return the times, or raise BadInput for times in which nothing can be played."""
    for name, value in (
        ("minutes", clockwork.minutes),
        ("rest_every_minutes", clockwork.rest_every_minutes),
    ):
        if value is not None and not 0 < value <= 24 * 60:
            raise BadInput(
                f"{value:g} is not a number of minutes to practise",
                where=name.replace("_", " "),
                fix="choose more than 0 and at most 1440",
            )
    return clockwork


def passes_a_rung(pattern: Pattern) -> int:
    """Return how many passes hold FEWEST_STROKES strokes, at least one."""
    return max(1, math.ceil(FEWEST_STROKES / max(1, pattern.strokes)))


class RungJudge(Protocol):
    """Decides on a rung's passes; `more` says whether passes may be added (None: fixed length)."""

    def __call__(self, passes: Sequence[Judged], more: bool | None = None) -> RungVerdict:
        """Return the verdict."""
        ...


class LadderPlan:
    """Decides the passes of a ladder; see `trainer.practice.plan.TempoPlan`."""

    def __init__(
        self,
        pattern: Pattern,
        ladder: Ladder,
        judge: RungJudge,
        passes: int | None = None,
        clockwork: LadderTimes | None = None,
    ) -> None:
        self.pattern, self.ladder, self.judge = pattern, check_ladder(ladder), judge
        self.passes = passes or (1 if ladder.rule == LONGER else passes_a_rung(pattern))
        self.grows = passes is None and ladder.rule != LONGER
        self.clockwork = check_ladder_times(clockwork or LadderTimes())
        self.standing = first_standing(ladder)
        self.rung = 0
        self._laid = 0
        self._answered = False
        self._results: list[PassResult] = []
        self._began_s: float | None = None
        self._rested_s = 0.0
        self._topped = False

    def rung_s(self, tempo: float) -> float:
        """Return how long a rung takes at a tempo at least, with its count-in, in seconds."""
        count_in_s = count_in_seconds(self.pattern, tempo, self.clockwork.count_in_bars)
        return count_in_s + self._least * pattern_seconds(self.pattern, tempo)

    def seconds_left(self, now_s: float) -> float | None:
        """Return the seconds until the bell, None where there is none."""
        if self.clockwork.minutes is None:
            return None
        began = now_s if self._began_s is None else self._began_s
        return max(0.0, self.clockwork.minutes * 60 - (now_s - began))

    # What the session asks

    def follows(self, now_s: float) -> Step | None:
        """Return the rung's next pass, None when its last one runs, or has to be waited for."""
        if self._laid >= self._least and not self._needs_more(now_s):
            return None
        self._laid += 1
        return Step(self.standing.tempo, self.rung)

    def next(self, now_s: float) -> Step | None:
        """Return the first pass of the rung to play, None when the ladder is over.

        A rung whose passes are all played but left the answer open gets one more.
        """
        if self._results:
            self._laid += 1
            return Step(self.standing.tempo, self.rung, self.clockwork.count_in_bars)
        rest_s = self._rest_s(now_s)
        if self._over(now_s, rest_s):
            return None
        if self._began_s is None:
            self._began_s = self._rested_s = now_s
        if rest_s > BREATH_S:
            self._rested_s = now_s + rest_s
        self._laid = 1
        return Step(self.standing.tempo, self.rung, self.clockwork.count_in_bars, rest_s)

    def passed(self, result: PassResult, now_s: float) -> Sequence[Event]:
        """Gather a pass; after the rung's last one return its verdict and where it goes."""
        self._results.append(result)
        if len(self._results) < self._laid:
            return ()
        tempo, rung = self.standing.tempo, self.rung
        changed = any(one.one.tempo != tempo for one in self._results)
        verdict = self._verdict(now_s)
        if verdict.undecided and not changed:
            return ()
        self._results, self._laid, self._answered = [], 0, False
        self.rung += 1
        if changed:
            return ()  # The tempo was changed by hand inside the rung: it says nothing.
        clean = verdict.clean
        self.standing = next_standing(self.ladder, self.standing, clean)
        at_top = tempo >= self.ladder.top and self.standing.tempo >= self.ladder.top
        self._topped = clean and at_top and self.ladder.rule in (STEADY, AIMED)
        going_on = not self._over(now_s, self._rest_s(now_s))
        next_tempo = self.standing.tempo if going_on else None
        left, failed = self.seconds_left(now_s), verdict.failed
        ended = RungEnded(rung, tempo, clean, failed, next_tempo, left)
        return (replace(ended, tightest=verdict.tightest, strokes=verdict.strokes),)

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

    # How long a rung is

    @property
    def _least(self) -> int:
        """The fewest passes of this rung."""
        return self.passes * self.standing.times

    def _verdict(self, now_s: float) -> RungVerdict:
        """The verdict on the passes that are settled."""
        judged = [piece for one in self._results for piece in one.pieces]
        return self.judge(judged, self._may_grow(now_s) if self.grows else None)

    def _needs_more(self, now_s: float) -> bool:
        """True where the passes that are settled leave the answer open, and another one fits.

        A long pass is waited for: to count in again takes less time than to play it in vain.
        """
        waits = self.pattern.strokes >= FEWEST_STROKES
        if waits or not self._results or not self._may_grow(now_s):
            return False
        # An answer that is there stays: the pass that still runs does not open it again.
        self._answered = not self._verdict(now_s).undecided
        return not self._answered

    def _may_grow(self, now_s: float) -> bool:
        """True where one more pass neither makes the rung too long nor runs over the bell."""
        strokes = max(1, self.pattern.strokes)
        left = self.seconds_left(now_s)
        fits = left is None or left >= 2 * pattern_seconds(self.pattern, self.standing.tempo)
        return (
            self.grows
            and not self._answered
            and fits
            and (self._laid + 0.5) * strokes <= MOST_STROKES
        )

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
