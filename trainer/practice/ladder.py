"""The tempo ladder: the rules for the next rung, and the ladder as the plan of a session.

Both rules are pure: a `Ladder` says what the player chose, a `Standing` where they are, and
`next_standing(ladder, standing, clean)` gives the next one. Tempos are BPM.

- *steady*: one step up when clean; when not, the same tempo again; after two failures in a row one
  step back.
- *adaptive*: up-down after Levitt 1971 (J. Acoust. Soc. Am. 49:467-477): up after 1, 2 or 3 clean
  rungs in a row, down after one that was not, with the step halved at each reversal until it
  reaches `smallest`. Such a ladder settles where the chance to be clean is 0.5 ** (1 / n): 50,
  70.7 or 79.4%.

Neither leaves the range from `bottom` to `top`.

A rung is the pattern some times over at one tempo, with one verdict on all its passes together.
Between rungs there are a few quiet seconds, and the breaks the player chose. A rung that could not
end before the time is up is not begun.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.practice.course import check_tempo, count_in_seconds, pattern_seconds
from trainer.practice.events import RungEnded
from trainer.practice.plan import Step

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.pattern.model import Pattern
    from trainer.practice.events import Event
    from trainer.practice.outcomes import Judged
    from trainer.practice.plan import PassResult


STEADY, ADAPTIVE = "steady", "adaptive"
LADDER_RULES = (STEADY, ADAPTIVE)
FAILURES_TO_STEP_BACK = 2
MAX_STEP = 100.0

START_SHARE = 0.90
"""A ladder that is not told where to start begins at this share of the tempo at which three rungs
in four are clean, which is itself below the ceiling: low enough to begin with a few clean ones. Our
own choice."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """What the player chose. `clean_to_rise` counts clean rungs in a row (adaptive only)."""

    start: float
    step: float = 1.0
    top: float = MAX_TEMPO
    bottom: float = MIN_TEMPO
    rule: str = STEADY
    clean_to_rise: int = 1
    smallest: float = 0.5


@dataclass(frozen=True, slots=True)
class Standing:
    """Where on the ladder the player stands: the tempo of the rung to play, and what led there.

    `run` counts clean rungs (above 0) or failed ones (below 0) in a row at this tempo; `heading` is
    +1 after a step up, -1 after a step down, 0 before the first; `reversals` are the tempos at
    which the heading turned.
    """

    tempo: float
    step: float
    run: int = 0
    heading: int = 0
    reversals: tuple[float, ...] = ()


def check_ladder(ladder: Ladder) -> Ladder:
    """Return the ladder, or raise BadInput for one that cannot move or leaves the range."""
    check_tempo(ladder.start)
    check_tempo(ladder.top)
    if not 0 < ladder.step <= MAX_STEP:
        raise BadInput(
            f"a ladder cannot move in steps of {ladder.step:g} BPM",
            fix=f"choose a step above 0 and at most {MAX_STEP:g}, 1 or 2 for instance",
        )
    if ladder.top < ladder.start:
        raise BadInput(
            f"the top of the ladder, {ladder.top:g} BPM, is below its start, {ladder.start:g} BPM",
            fix="choose a higher top or a lower start",
        )
    if ladder.rule not in LADDER_RULES:
        raise BadInput(
            f'there is no ladder rule "{ladder.rule}"', fix="choose " + " or ".join(LADDER_RULES)
        )
    if ladder.clean_to_rise not in (1, 2, 3):
        raise BadInput(
            f"{ladder.clean_to_rise} clean rungs to go up is not a choice", fix="choose 1, 2 or 3"
        )
    return ladder


def first_standing(ladder: Ladder) -> Standing:
    """Return the standing on the first rung."""
    return Standing(ladder.start, ladder.step)


def next_standing(ladder: Ladder, standing: Standing, clean: bool) -> Standing:
    """Return the next standing once the rung at `standing.tempo` was clean, or was not."""
    run = _run_after(standing.run, clean)
    if ladder.rule == STEADY:
        up, down = clean, run <= -FAILURES_TO_STEP_BACK
    else:
        up, down = run >= ladder.clean_to_rise, not clean
    if up:
        return _moved(ladder, standing, 1)
    if down:
        return _moved(ladder, standing, -1)
    return replace(standing, run=run)


def _run_after(run: int, clean: bool) -> int:
    if clean:
        return max(run, 0) + 1
    return min(run, 0) - 1


def _moved(ladder: Ladder, standing: Standing, heading: int) -> Standing:
    turned = standing.heading not in (0, heading)
    step = standing.step
    if turned and ladder.rule == ADAPTIVE:
        step = max(step / 2, min(ladder.smallest, ladder.step))
    tempo = min(max(standing.tempo + heading * step, ladder.bottom), ladder.top)
    return Standing(
        tempo=tempo,
        step=step,
        heading=heading,
        reversals=(*standing.reversals, standing.tempo) if turned else standing.reversals,
    )


BREATH_S = 3.0
"""Quiet between two rungs: long enough to read the verdict with the sticks in the hands."""

STROKES_A_RUNG = 64
"""A rung holds at least this many strokes where nobody says how many passes: fewer say little."""


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
        clockwork: LadderTimes | None = None,
    ) -> None:
        self.pattern, self.ladder, self.judge = pattern, check_ladder(ladder), judge
        self.passes = passes or passes_a_rung(pattern)
        self.clockwork = check_ladder_times(clockwork or LadderTimes())
        self.standing = first_standing(ladder)
        self.rung = 0
        self._to_play = 0
        self._results: list[PassResult] = []
        self._began_s: float | None = None
        self._rested_s = 0.0
        self._topped = False

    def rung_s(self, tempo: float) -> float:
        """Return how long a rung takes at a tempo, with its count-in, in seconds."""
        count_in_s = count_in_seconds(self.pattern, tempo, self.clockwork.count_in_bars)
        return count_in_s + self.passes * pattern_seconds(self.pattern, tempo)

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
        self.standing = next_standing(self.ladder, self.standing, clean)
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
