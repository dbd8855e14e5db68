"""Where the session stands, as the live screen tells it: phase, tempo, pass, beat, running picture.

Pure: it hears the events in order and keeps the newest of each.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.practice import events
from trainer.practice.outcomes import PLAYED, RIM
from trainer.screens import rungs, words
from trainer.screens.around import ALONE
from trainer.screens.time_left import TimeLeft

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.screens.around import Around
    from trainer.screens.board import Board
    from trainer.screens.ink import Line

WAITING, COUNT_IN, PLAYING, PAUSED, RESTING, ENDED = (
    "waiting",
    "count-in",
    "playing",
    "paused",
    "resting",
    "ended",
)


class Progress:
    """The newest of everything; `board` keeps the marks on the grid."""

    def __init__(
        self, board: Board, tempo: float, passes: int | None = None, around: Around = ALONE
    ) -> None:
        self.board = board
        self.around = around
        self.passes = passes
        self.phase = WAITING
        self.tempo = tempo
        self.next_tempo: float | None = None
        self.pass_index = 0
        self._cut: set[int] = set()
        self.bar = 0
        self.beat = 0
        self.beats = board.pattern.meter.beats
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
        hearer = _HEARERS.get(type(event))
        if hearer is not None:
            hearer(self, event)

    @property
    def seconds_left(self) -> float | None:
        """The time until the end, None where there is none."""
        return self._time_left.seconds

    @property
    def pass_number(self) -> int:
        """Which of the asked passes this is, from 1."""
        return words.pass_number(self.pass_index, self._cut)

    def rung_row(self, columns: int) -> Line:
        """Return the last rungs of a ladder as one row, nothing where none is climbed."""
        if self.around.ladder and not self.rungs:
            return rungs.first(self.tempo)
        return rungs.row(self.rungs, columns)

    def beat_started(self, event: events.BeatStarted) -> None:
        """A beat of the count-in or of a bar begins."""
        self.phase = COUNT_IN if event.phase == COUNT_IN else PLAYING
        self.tempo, self.beat, self.beats = event.tempo, event.beat, event.beats
        self.pass_index = event.pass_index
        self.bar = event.bar if self.phase == PLAYING else 0

    def pass_started(self, event: events.PassStarted) -> None:
        """A pass is laid out; it is shown from its first beat on."""
        self.rung, self.next_tempo = event.rung, None

    def hit_judged(self, event: events.HitJudged) -> None:
        """A hit has an outcome; only the first word about it is the last stroke."""
        self.board.hit(event)
        if not event.final:
            self.last = words.stroke(event, self.board.written(event.note_index))
            self.last_offset_s = event.offset_s if event.outcome in (PLAYED, RIM) else None

    def target_missed(self, event: events.TargetMissed) -> None:
        """A stroke was missed."""
        self.board.missed(event)
        self.last = words.missed(self.board.written(event.note_index))
        self.last_offset_s = None

    def idle_hit(self, event: events.IdleHit) -> None:
        """A hit landed while nothing was asked."""
        self.last = f"{words.pad(event.voice, event.note)} (not judged)"

    def heard_tally(self, event: events.Tally) -> None:
        """The running picture."""
        self.tally = event

    def pass_cut(self, event: events.PassCut) -> None:
        """A pass was broken off and will be played again."""
        self._cut.add(event.pass_index)

    def pass_ended(self, event: events.PassEnded) -> None:
        """A pass was judged clean or not."""
        self.clean, self.failed = event.clean, event.failed

    def rung_ended(self, event: events.RungEnded) -> None:
        """A rung of the ladder has its verdict: say it, and where it goes from here."""
        self.clean, self.failed, self.next_tempo = event.clean, event.failed, event.next_tempo
        self.rungs.append(event)

    def paused(self, event: events.Paused) -> None:
        """Playing stopped."""
        self.phase, self.reason = PAUSED, event.reason

    def rest_started(self, event: events.RestStarted) -> None:
        """Nothing is asked for a while."""
        self.phase, self.next_tempo, self.rest = RESTING, event.tempo, event

    def tempo_chosen(self, event: events.TempoChosen) -> None:
        """The next pass will have another tempo."""
        self.next_tempo = event.tempo

    def resumed(self, _event: events.Resumed) -> None:
        """Playing goes on; the count-in follows."""
        self.phase, self.reason = WAITING, ""

    def ended(self, event: events.Finished) -> None:
        """The session is over."""
        self.phase, self.finished = ENDED, event


_HEARERS: dict[type, Callable[[Progress, Any], None]] = {
    events.BeatStarted: Progress.beat_started,
    events.PassStarted: Progress.pass_started,
    events.HitJudged: Progress.hit_judged,
    events.TargetMissed: Progress.target_missed,
    events.IdleHit: Progress.idle_hit,
    events.RungEnded: Progress.rung_ended,
    events.RestStarted: Progress.rest_started,
    events.TempoChosen: Progress.tempo_chosen,
    events.Tally: Progress.heard_tally,
    events.PassCut: Progress.pass_cut,
    events.PassEnded: Progress.pass_ended,
    events.Paused: Progress.paused,
    events.Resumed: Progress.resumed,
    events.Finished: Progress.ended,
}
