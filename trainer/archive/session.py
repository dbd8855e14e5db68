"""A saved session as a value: what was to be played, what was struck, and what became of it.

Times are seconds on the session's clock, as the driver stamped them: the kit's latency and its
filter are applied when the session is judged, so that an old one can be judged again. Values that
lines of a file hold as they are have their bounds in their types.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, Any

from msgspec import Meta

from trainer import __version__
from trainer.kit.model import GENERAL_MIDI, Kit
from trainer.pattern.as_played import played_places
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.practice.course import (
    Course,
    Pass,
    pass_end,
    seconds_per_quarter,
)
from trainer.typed_json import Text  # noqa: TC001  read by msgspec

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from trainer.kit.hits import Strike
    from trainer.midi.hit_source import Control
    from trainer.pattern.model import Pattern

LONGEST_FILE = 64 * 2**20
LONGEST_S = 7 * 86_400.0
MOST_LINES = 1_000_000
MOST_TARGETS = 1_000_000
MOST_RUNGS = 100_000
LONGEST_HEADER = 16 * 2**20
LONGEST_LINE = 4 * 2**20
LONGEST_STRIKE = 200
LONGEST_TEXT = 2000
"""Bounds of a file, shared by writer and reader: bytes, seconds, lines, strokes due, rungs, bytes
of a line, letters. Far above any real session, low enough for time and memory: 64 MB is more than a
day of playing without a break at ten strokes a second.
"""

Seconds = Annotated[float, Meta(ge=-LONGEST_S, le=LONGEST_S)]
Tempo = Annotated[float, Meta(ge=MIN_TEMPO, le=MAX_TEMPO)]
LineCount = Annotated[int, Meta(ge=0, le=MOST_LINES)]

START_FITTED = "start_fitted"
"""The key of a header's `timing` that is true where the start was found from the strokes."""

SESSION_SUFFIX = ".jsonl"
"""The ending of a session's file."""

MARKS = ("pause", "resume", "unplugged", "plugged", "stall", "silent")
"""What can be marked in a session; `silent` is a beat whose click was left out on purpose."""


@dataclass(frozen=True, slots=True)
class SessionHeader:
    """All that is needed to judge a session again, and who played it when.

    `started` carries its zone. `tolerance`, `course` (the settings chosen) and `timing` (figures
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

    time_s: Seconds
    late_s: Seconds


@dataclass(frozen=True, slots=True)
class RungResult:
    """The result of one rung of a ladder; `failed` says in words what was not clean.

    `tightest` is what came closest to its limit in a clean one, `strokes` how many were written
    (0: not known).
    """

    index: LineCount
    tempo: Tempo
    clean: bool
    failed: Annotated[tuple[Text, ...], Meta(max_length=1000)] = ()
    time_s: Seconds = 0.0
    tightest: Text = ""
    strokes: LineCount = 0


@dataclass(frozen=True, slots=True)
class SessionMark:
    """Something on the way: `kind` is one of MARKS, `seconds` the length of a stall."""

    kind: str
    time_s: Seconds
    reason: Text = ""
    seconds: Annotated[float, Meta(ge=0, le=LONGEST_S)] = 0.0


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
    until = (pass_end(pattern, one) - one.start_s) / seconds_per_quarter(pattern, one.tempo)
    return sum(place < until for place in played_places(pattern).notes)


def played_seconds(pattern: Pattern, passes: Iterable[Pass]) -> float:
    """Return how long was played, in seconds: the passes without count-ins, rests and pauses."""
    return sum(max(0.0, pass_end(pattern, one) - one.begins_s) for one in passes)
