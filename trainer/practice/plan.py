"""What to play next: the tempo plan's protocol, one steady tempo, and following an outside clock.

The practice loop asks a plan at two moments. About a beat before a pass ends it asks what `follows`
without a gap; None means that the plan wants to see how the pass went. When all passes are settled
and nothing follows, it wants the `next` step; None ends the session. A pass that was cut off is
played `again` and never counts as passed.

Following an outside clock, a pass begins on a bar line of the outside song, after the count-in, and
the passes that follow it are laid on the outside's beats one by one, so that small errors of tempo
never add up. Beats are quarter notes, times seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import ceil
from typing import TYPE_CHECKING, Protocol

from trainer.pattern.as_played import played_places
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.practice.click_figure import ClickFigure
from trainer.practice.course import check_tempo

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from trainer.pattern.model import Pattern
    from trainer.practice.course import Pass
    from trainer.practice.events import Event
    from trainer.practice.outcomes import Judged


@dataclass(frozen=True, slots=True)
class Step:
    """One pass to play: its tempo (BPM), its rung, a count-in before it and a rest before that.

    `at_s` is when its first beat falls where something outside decides that (None: when it can).
    `from_bar` is the bar (from 0) it begins with: that of a pause, of a pass that is continued.
    """

    tempo: float
    rung: int = 0
    count_in_bars: int = 0
    rest_s: float = 0.0
    at_s: float | None = None
    from_bar: int = 0


@dataclass(frozen=True, slots=True)
class PassResult:
    """A whole pass as it was judged live. `failed` names what was not clean, worst first.

    `before` are its earlier pieces, where it was paused on the way; `judged` is then the last one.
    """

    one: Pass
    judged: Judged
    clean: bool
    failed: tuple[str, ...]
    before: tuple[Judged, ...] = ()

    @property
    def pieces(self) -> tuple[Judged, ...]:
        """All of it, in order."""
        return (*self.before, self.judged)


class TempoPlan(Protocol):
    """Decides the passes of a session. Times are seconds on the session's clock."""

    def follows(self, now_s: float) -> Step | None:
        """Return the pass that follows the running one without a gap, or None."""
        ...

    def next(self, now_s: float) -> Step | None:
        """Return the step to begin when nothing runs (also the first), None when all is done."""
        ...

    def passed(self, result: PassResult, now_s: float) -> Sequence[Event]:
        """Take in how a whole pass went; return what is to be reported (a rung's end)."""
        ...

    def again(self, step: Step, now_s: float) -> Step:
        """Return what a step that was cut off becomes when it is played again."""
        ...

    def nudge(self, bpm: float) -> float:
        """Change the tempo by `bpm` from the next pass on; return the tempo it now is."""
        ...


class CleanVerdict(Protocol):
    """What a judge says of a pass: clean or not, and what failed, worst first."""

    @property
    def clean(self) -> bool:
        """True when nothing failed."""
        ...

    @property
    def failed(self) -> Iterable[object]:
        """What failed; each says itself in words by `str`."""
        ...


@dataclass(frozen=True, slots=True)
class SessionOptions:
    """How a session is run, apart from its plan.

    `click` is what the click plays. `pad_keys` names the command (pause, resume, toggle, restart,
    quit) of a MIDI note (`trainer.practice.events` says when).
    """

    pad_keys: Mapping[int, str] | None = None
    click: ClickFigure = field(default_factory=ClickFigure)


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


AHEAD_S = 0.35
"""The least time before a count-in begins, so that it can be clicked in full."""


class OutsideClock(Protocol):
    """What is known of an outside song. Beats are quarter notes from its start."""

    @property
    def tempo(self) -> float | None:
        """Quarter notes a minute, None while not known."""
        ...

    def beat_at(self, time_s: float) -> float | None:
        """Return the beat the song is at."""
        ...

    def time_of(self, beat: float) -> float | None:
        """Return when a beat falls."""
        ...


class FollowPlan:
    """The pattern `passes` times (None: until stopped), on the bars of an outside clock."""

    def __init__(
        self,
        pattern: Pattern,
        clock: OutsideClock,
        tempo: float,
        passes: int | None = None,
        count_in_bars: int = 1,
    ) -> None:
        self.pattern, self.clock = pattern, clock
        self.tempo, self.left, self.count_in_bars = tempo, passes, count_in_bars
        self._ends_on: float | None = None

    def follows(self, now_s: float) -> Step | None:
        """Return one more pass, on the beat the running one ends on."""
        if not self._take_one():
            return None
        begins_on, self._ends_on = self._ends_on, self._after(self._ends_on)
        at_s = None if begins_on is None else self.clock.time_of(begins_on)
        return Step(self._tempo(), at_s=at_s)

    def next(self, now_s: float) -> Step | None:
        """Return the first pass, on a bar line with room for the count-in."""
        return self._on_a_bar(Step(self.tempo), now_s) if self._take_one() else None

    def passed(self, result: PassResult, now_s: float) -> Sequence[Event]:
        """Nothing depends on how a pass went."""
        return ()

    def again(self, step: Step, now_s: float) -> Step:
        """Return a pass that was cut off, on a bar line to come."""
        return self._on_a_bar(step, now_s)

    def nudge(self, bpm: float) -> float:
        """Return the tempo, which is the outside's to change."""
        return self._tempo()

    def _take_one(self) -> bool:
        if self.left is None:
            return True
        self.left -= 1
        return self.left >= 0

    def _on_a_bar(self, step: Step, now_s: float) -> Step:
        bar = float(self.pattern.meter.length)
        begins_on = at_s = None
        beat = self.clock.beat_at(now_s + AHEAD_S)
        if beat is not None:
            begins_on = (max(0, ceil(beat / bar)) + self.count_in_bars) * bar
            at_s = self.clock.time_of(begins_on)
        self._ends_on = self._after(begins_on)
        return replace(
            step,
            tempo=self._tempo(),
            count_in_bars=self.count_in_bars,
            rest_s=0.0,
            at_s=at_s,
            from_bar=0,
        )

    def _after(self, beat: float | None) -> float | None:
        """The beat a pass that begins on `beat` ends on."""
        return None if beat is None else beat + played_places(self.pattern).length

    def _tempo(self) -> float:
        """The outside's tempo in the pattern's own unit; the last one known while there is none."""
        quarters = self.clock.tempo
        if quarters is not None:
            own = quarters / float(self.pattern.tempo_unit)
            self.tempo = min(MAX_TEMPO, max(MIN_TEMPO, own))
        return self.tempo
