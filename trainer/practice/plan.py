"""What to play next: the tempo plan's protocol, and the plain plan of one steady tempo.

The practice loop asks a plan in two moments. About a beat before a pass ends it asks what
`follows` without a gap; None means that the plan wants to see how the pass went. When all passes
are settled and nothing follows, it asks for the `next` step; None ends the session. A pass that
was cut off is played `again` and never counts as passed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

from trainer.practice.course import MAX_TEMPO, MIN_TEMPO, check_tempo

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.practice.course import Pass
    from trainer.practice.events import Event
    from trainer.practice.outcomes import Judged


@dataclass(frozen=True, slots=True)
class Step:
    """One pass to play: its tempo (BPM), its rung, a count-in before it and a rest before that.

    `at_s` is when its first beat falls where something outside decides that (None: when it can).
    """

    tempo: float
    rung: int = 0
    count_in_bars: int = 0
    rest_s: float = 0.0
    at_s: float | None = None


@dataclass(frozen=True, slots=True)
class PassResult:
    """A whole pass as it was judged live. `failed` names what was not clean, worst first."""

    one: Pass
    judged: Judged
    clean: bool
    failed: tuple[str, ...]


class TempoPlan(Protocol):
    """Decides the passes of a session. Times are seconds on the session's clock."""

    def follows(self, now_s: float) -> Step | None:
        """Return the pass that follows the running one without a gap, or None."""
        ...

    def next(self, now_s: float) -> Step | None:
        """Return the step to begin when nothing runs (also the first), None when all is done."""
        ...

    def passed(self, result: PassResult, now_s: float) -> Sequence[Event]:
        """Hear how a whole pass went; return what is to be told (a rung's end)."""
        ...

    def again(self, step: Step, now_s: float) -> Step:
        """Return what a step that was cut off becomes when it is played again."""
        ...

    def nudge(self, bpm: float) -> float:
        """Change the tempo by `bpm` from the next pass on; return the tempo it now is."""
        ...


class SteadyPlan:
    """One tempo, the pattern `passes` times without a gap (None: until the player stops)."""

    def __init__(self, tempo: float, passes: int | None = None, count_in_bars: int = 1) -> None:
        self.tempo = check_tempo(tempo)
        self.left = passes
        self.count_in_bars = count_in_bars

    def follows(self, now_s: float) -> Step | None:
        """Return one more pass while there are any left."""
        if self.left is not None:
            if self.left == 0:
                return None
            self.left -= 1
        return Step(self.tempo)

    def next(self, now_s: float) -> Step | None:
        """Return the first pass, with the count-in."""
        step = self.follows(now_s)
        return step and self.again(step, now_s)

    def passed(self, result: PassResult, now_s: float) -> Sequence[Event]:
        """Nothing depends on how a pass went."""
        return ()

    def again(self, step: Step, now_s: float) -> Step:
        """Return the same pass at the tempo that now holds, counted in."""
        return replace(step, tempo=self.tempo, count_in_bars=self.count_in_bars)

    def nudge(self, bpm: float) -> float:
        """Change the tempo, within 20 to 400 BPM."""
        self.tempo = min(MAX_TEMPO, max(MIN_TEMPO, self.tempo + bpm))
        return self.tempo
