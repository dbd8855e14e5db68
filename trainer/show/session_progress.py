"""Where a running session is: its frame, the time left, phase, tempo, pass, beat, running picture.

Pure: it takes the events in order and keeps the newest of each; times are seconds on the session's
clock. The frame comes from outside: the session's time, its place in a routine, what follows. The
time left is that to a ladder's bell (which does not wait), or to the end of a block's last pass
(which a pause puts off).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from trainer.console import printable
from trainer.midi.keyboard import KeySource
from trainer.pattern.as_played import bar_beats
from trainer.practice import events
from trainer.practice.course import pattern_seconds
from trainer.practice.ladder_plan import LadderPlan
from trainer.practice.outcomes import PLAYED, RIM
from trainer.show import live_words
from trainer.show.ink import line_width, shortened

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.engine.job import Job
    from trainer.pattern.model import Pattern
    from trainer.show.board import Board
    from trainer.show.ink import Line


@dataclass(frozen=True, slots=True)
class SessionFrame:
    """The frame of one session.

    `seconds` is the time until its end (None: no set end), `ladder` whether it climbs. `block`
    is the place in a routine ("block 2 of 4") and `after` what follows automatically ("open block,
    5 minutes"). `pads` names the pads that continue where something waits.
    `keys` is True where the computer keys are the kit, `left_handed` where they are mirrored.
    """

    seconds: float | None = None
    ladder: bool = False
    block: str = ""
    after: str = ""
    pads: str = ""
    keys: bool = False
    left_handed: bool = False


NO_FRAME = SessionFrame()
"""A session on its own."""


def frame_of(job: Job, given: SessionFrame = NO_FRAME) -> SessionFrame:
    """Return the frame of a job: the one given, a ladder's time, the pads that continue."""
    pads = events.pad_names(job.options.pad_keys or {}, job.kit, events.CONTINUE_COMMANDS)
    keys = isinstance(job.source, KeySource)
    mirrored = isinstance(job.source, KeySource) and job.source.left_handed
    frame = replace(given, pads=pads, keys=keys, left_handed=mirrored)
    if isinstance(job.plan, LadderPlan):
        frame = replace(frame, ladder=True, seconds=job.plan.seconds_left(0.0))
    return frame


class TimeLeft:
    """Counts down from `seconds` (None: no set end) from the first beat on.

    With `passes` the end is that of the last pass, so a pause puts it off. Without them it is a
    bell, which does not wait and which each rung's end sets again.
    """

    def __init__(
        self, pattern: Pattern, seconds: float | None = None, passes: int | None = None
    ) -> None:
        self.seconds = seconds
        self._pattern = pattern
        self._passes = passes if seconds is not None else None
        self._cut: set[int] = set()
        self._end_s: float | None = None

    def hear(self, event: events.Event) -> None:
        """Take one event in."""
        match event:
            case events.BeatStarted() | events.RestStarted():
                self._time_is(event.time_s)
            case events.RungEnded():
                self.seconds, self._end_s = event.seconds_left, None
            case events.PassCut():
                self._cut.add(event.pass_index)
            case events.PassStarted() if self._passes:
                self._pass_started(event, self._passes)
            case events.Paused() if self._passes:
                self._end_s = None

    def _time_is(self, now_s: float) -> None:
        """Count down to the end; where it has no date yet, this moment sets it."""
        if self.seconds is None:
            return
        if self._end_s is None:
            self._end_s = now_s + self.seconds
        self.seconds = max(0.0, self._end_s - now_s)

    def _pass_started(self, event: events.PassStarted, passes: int) -> None:
        """Set the end again: this pass and those after it, at its tempo."""
        to_play = passes + 1 - live_words.pass_number(event.pass_index, self._cut)
        self._end_s = (
            event.start_s - event.skipped_s + to_play * pattern_seconds(self._pattern, event.tempo)
        )


WAITING, COUNT_IN, PLAYING, PAUSED, RESTING, ENDED = (
    "waiting",
    "count-in",
    "playing",
    "paused",
    "resting",
    "ended",
)


SOON_S = 0.01
"""A pass that begins this near to a moment begins at it."""


class SessionProgress:
    """The newest of everything; `board` keeps the marks on the grid."""

    def __init__(
        self, board: Board, tempo: float, passes: int | None = None, around: SessionFrame = NO_FRAME
    ) -> None:
        self.board = board
        self.around = around
        self.passes = passes
        self.phase = WAITING
        self.tempo = tempo
        self.next_tempo: float | None = None
        self.tempo_at_s: float | None = None
        self.now_s = 0.0
        self.coming_bar = 0
        self.silent = False
        self.pass_index = 0
        self._cut: set[int] = set()
        self.bar = 0
        self.beat = 0
        self.beats = bar_beats(board.pattern, board.pattern.meter)
        self.rung = 0
        self.tally = events.Tally(0, 0, 0, 0, 0, 0, None, None)
        self.last = ""
        self.reason = ""
        self.clean: bool | None = None
        self.failed: tuple[str, ...] = ()
        self.rungs: list[events.RungEnded] = []
        self.rest: events.RestStarted | None = None
        self._time_left = TimeLeft(board.pattern, around.seconds, passes)
        self.last_offset_s: float | None = None
        self.finished: events.Finished | None = None

    def hear(self, event: events.Event) -> None:
        """Take one event in."""
        self._time_left.hear(event)
        hearer = _TAKES_IN.get(type(event))
        if hearer is not None:
            hearer(self, event)

    @property
    def seconds_to_tempo(self) -> float | None:
        """The time until the next tempo takes effect, None where no pass has to end before."""
        return None if self.tempo_at_s is None else max(0.0, self.tempo_at_s - self.now_s)

    @property
    def open_block(self) -> bool:
        """Whether nothing is written: whatever is struck is as good."""
        return not self.board.pattern.notes

    @property
    def seconds_left(self) -> float | None:
        """The time until the end, None where there is none."""
        return self._time_left.seconds

    @property
    def pass_number(self) -> int:
        """Which of the chosen passes this is, from 1."""
        return live_words.pass_number(self.pass_index, self._cut)

    def rung_row(self, columns: int) -> Line:
        """Return the last rungs of a ladder as one row, nothing without a ladder."""
        if self.around.ladder and not self.rungs:
            return live_words.first_rung_row(self.tempo)
        return live_words.rung_row(self.rungs, columns)

    def title_line(self, title: str, columns: int) -> Line:
        """Return what has to be known first (pause, rest, count-in, new tempo), then a title.

        The title is cut after a word where it is too long for what is left.
        """
        pads = f" or {printable(self.around.pads)}" if self.around.pads else ""
        paused = live_words.pause_words(printable(self.reason))
        words = {
            PAUSED: f"{paused} – space{pads} continues",
            RESTING: "rest: the count-in follows automatically, r: now",
            COUNT_IN: self._count_in(),
        }.get(self.phase) or self._coming()
        left = live_words.time_left_words(self.around.block, self.seconds_left)
        bell = f"{left}  " if left else ""
        first = ((f" {words} ", "alert"), ("  ", "plain")) if words else ()
        line: Line = (*first, (bell, "strong"))
        return (*line, (shortened(title, columns - line_width(line)), "strong"))

    def _count_in(self) -> str:
        at = f", bar {self.bar + 1} follows" if self.bar else ""
        return f"count-in {self.beat + 1} of {self.beats}{at}"

    def _coming(self) -> str:
        """Return that the click is silent, or which tempo is coming and when; else nothing."""
        if self.silent:
            return live_words.SILENT_BAR
        words = live_words.tempo_change_words(self.next_tempo, self.seconds_to_tempo)
        return words if self.phase == PLAYING else ""

    def beat_started(self, event: events.BeatStarted) -> None:
        """A beat of the count-in or of a bar starts."""
        self.phase = COUNT_IN if event.phase == COUNT_IN else PLAYING
        self.tempo, self.beat, self.beats = event.tempo, event.beat, event.beats
        self.pass_index = event.pass_index
        self.bar = event.bar if self.phase == PLAYING else self.coming_bar
        self.coming_bar = self.coming_bar if self.phase == COUNT_IN else 0
        self.now_s, self.silent = event.time_s, event.silent

    def pass_started(self, event: events.PassStarted) -> None:
        """A pass is laid out; it is shown from its first beat on."""
        self.rung = event.rung
        if self.tempo_at_s is None or event.start_s > self.tempo_at_s - SOON_S:
            self.next_tempo = self.tempo_at_s = None

    def hit_judged(self, event: events.HitJudged) -> None:
        """A hit has an outcome; only the first word about it is the last stroke."""
        self.board.hit(event)
        if not event.final:
            written = self.board.written(event.note_index)
            self.last = live_words.stroke_words(event, written, open_block=self.open_block)
            self.last_offset_s = event.offset_s if event.outcome in (PLAYED, RIM) else None

    def target_missed(self, event: events.TargetMissed) -> None:
        """A stroke was missed."""
        self.board.missed(event)
        self.last = live_words.missed_words(self.board.written(event.note_index))
        self.last_offset_s = None

    def idle_hit(self, event: events.IdleHit) -> None:
        """A hit landed while nothing was due."""
        self.last = f"{live_words.pad_words(event.voice, event.note)} (not counted)"

    def heard_tally(self, event: events.Tally) -> None:
        """The running picture."""
        self.tally = event

    def pass_cut(self, event: events.PassCut) -> None:
        """A pass was interrupted and will be played again."""
        self._cut.add(event.pass_index)

    def pass_ended(self, event: events.PassEnded) -> None:
        """A pass was clean or not."""
        self.clean, self.failed = event.clean, event.failed

    def rung_ended(self, event: events.RungEnded) -> None:
        """A rung of the ladder has its verdict and a next tempo."""
        self.clean, self.failed, self.next_tempo = event.clean, event.failed, event.next_tempo
        self.rungs.append(event)

    def paused(self, event: events.Paused) -> None:
        """Playing stopped."""
        self.phase, self.reason, self.silent = PAUSED, event.reason, False

    def rest_started(self, event: events.RestStarted) -> None:
        """A rest: nothing is due."""
        self.phase, self.next_tempo, self.rest = RESTING, event.tempo, event
        self.silent, self.tempo_at_s, self.coming_bar = False, None, 0

    def tempo_chosen(self, event: events.TempoChosen) -> None:
        """The next pass will have another tempo."""
        self.next_tempo, self.tempo_at_s = event.tempo, event.at_s

    def resumed(self, event: events.Resumed) -> None:
        """Playing continues with a bar; the count-in follows."""
        self.phase, self.reason, self.coming_bar = WAITING, "", event.bar

    def ended(self, event: events.Finished) -> None:
        """The session is over."""
        self.phase, self.finished = ENDED, event


_TAKES_IN: dict[type, Callable[[SessionProgress, Any], None]] = {
    events.BeatStarted: SessionProgress.beat_started,
    events.PassStarted: SessionProgress.pass_started,
    events.HitJudged: SessionProgress.hit_judged,
    events.TargetMissed: SessionProgress.target_missed,
    events.IdleHit: SessionProgress.idle_hit,
    events.RungEnded: SessionProgress.rung_ended,
    events.RestStarted: SessionProgress.rest_started,
    events.TempoChosen: SessionProgress.tempo_chosen,
    events.Tally: SessionProgress.heard_tally,
    events.PassCut: SessionProgress.pass_cut,
    events.PassEnded: SessionProgress.pass_ended,
    events.Paused: SessionProgress.paused,
    events.Resumed: SessionProgress.resumed,
    events.Finished: SessionProgress.ended,
}
