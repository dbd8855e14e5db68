"""A saved session as a value: what was to be played, what was struck, and what became of it.

Times are seconds on the session's clock, as the driver stamped them: the kit's latency and its
filter are applied when the session is judged, so that an old one can be judged again.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from trainer import __version__
from trainer.kit.model import GENERAL_MIDI, Kit
from trainer.practice.course import Course, Pass, pass_end, seconds_per_quarter

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from trainer.kit.hits import Strike
    from trainer.midi.hit_source import Control
    from trainer.pattern.model import Pattern

MARKS = ("pause", "resume", "unplugged", "plugged", "stall", "silent")
"""What can be marked in a session; `silent` is a beat whose click was left out on purpose."""


@dataclass(frozen=True, slots=True)
class SessionHeader:
    """All that is needed to judge a session again, and who played it when.

    `started` carries its zone. `tolerance`, `course` (the settings asked for) and `timing` (figures
    of the driver's clock) are plain JSON values of those who write them. `source` names the input.
    """

    pattern: Pattern
    started: datetime
    kit: Kit = GENERAL_MIDI
    player: str = ""
    source: str = ""
    tolerance: dict[str, Any] = field(default_factory=dict)
    course: dict[str, Any] = field(default_factory=dict)
    timing: dict[str, Any] = field(default_factory=dict)
    software: str = __version__


@dataclass(frozen=True, slots=True)
class SentClick:
    """One click: when it was due and how much later it was sent, in seconds."""

    time_s: float
    late_s: float


@dataclass(frozen=True, slots=True)
class RungResult:
    """The result of one rung of a ladder; `failed` says in words what was not clean."""

    index: int
    tempo: float
    clean: bool
    failed: tuple[str, ...] = ()
    time_s: float = 0.0


@dataclass(frozen=True, slots=True)
class SessionMark:
    """Something on the way: `kind` is one of MARKS, `seconds` the length of a stall."""

    kind: str
    time_s: float
    reason: str = ""
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Session:
    """A whole session as it was written. `summary` is None where it was cut off.

    `strikes` are judged; `idle` ones came while nothing was asked (a pause, a rest, a count-in).
    `torn` is True when a piece of an unfinished last line was left out. `recovered` is True when
    the summary was computed after a crash. `damaged` are the numbers (from 1) of strikes' lines
    that could not be read and were left out.
    """

    header: SessionHeader
    passes: tuple[Pass, ...] = ()
    strikes: tuple[Strike, ...] = ()
    idle: tuple[Strike, ...] = ()
    controls: tuple[Control, ...] = ()
    clicks: tuple[SentClick, ...] = ()
    rungs: tuple[RungResult, ...] = ()
    marks: tuple[SessionMark, ...] = ()
    summary: dict[str, Any] | None = None
    recovered: bool = False
    torn: bool = False
    damaged: tuple[int, ...] = ()

    @property
    def pattern(self) -> Pattern:
        """The pattern that was played."""
        return self.header.pattern

    @property
    def kit(self) -> Kit:
        """The kit it was played on."""
        return self.header.kit

    def course(self) -> Course:
        """Return the passes as they were played, with the cuts."""
        return Course(self.pattern, self.passes)


def notes_due(pattern: Pattern, one: Pass) -> int:
    """Return how many notes of a pass are due before its end, fewer where it was cut."""
    beats = (pass_end(pattern, one) - one.start_s) / seconds_per_quarter(pattern, one.tempo)
    return bisect_left(pattern.notes, beats, key=lambda note: float(note.beat))


def played_seconds(pattern: Pattern, passes: Iterable[Pass]) -> float:
    """Return how long was played, in seconds: the passes without count-ins, rests and pauses."""
    return sum(max(0.0, pass_end(pattern, one) - one.start_s) for one in passes)
