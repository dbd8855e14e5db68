"""Everything the practice loop tells whoever looks on, and every command it takes, on one page.

Events are small and picklable: they cross a pipe to the screen, which may fall behind without
anything being lost. Times are seconds on the session's clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class BeatStarted:
    """A beat begins. `phase` is count-in or playing; `bar` and `beat` count from 0 in the pass.

    In a count-in `beat` counts from 0 too and `beats` says how many there are in the bar.
    """

    time_s: float
    phase: str
    pass_index: int
    bar: int
    beat: int
    beats: int
    tempo: float


@dataclass(frozen=True, slots=True)
class PassStarted:
    """A pass is laid out (told before its first beat, with the count-in where there is one)."""

    pass_index: int
    rung: int
    tempo: float
    start_s: float
    first_target: int
    target_count: int


@dataclass(frozen=True, slots=True)
class HitJudged:
    """A hit landed and has a provisional outcome, or an earlier one was settled (`final`)."""

    hit: int
    time_s: float
    note: int
    velocity: int
    voice: str | None
    zone: str
    outcome: str
    target: int | None
    offset_s: float | None
    final: bool


@dataclass(frozen=True, slots=True)
class TargetMissed:
    """A target was settled as missed."""

    target: int


@dataclass(frozen=True, slots=True)
class Tally:
    """The running picture since the session began, newest only (older ones may be skipped)."""

    played: int
    wrong_pad: int
    missed: int
    extra: int
    double: int
    rim: int
    offset_mean_s: float | None
    offset_spread_s: float | None


@dataclass(frozen=True, slots=True)
class PassEnded:
    """A pass is over and settled. `failed` lists what was not clean, worst first, in words."""

    pass_index: int
    rung: int
    tempo: float
    clean: bool
    failed: tuple[str, ...]
    figures: dict[str, Any]


@dataclass(frozen=True, slots=True)
class RungEnded:
    """A rung of the ladder has its verdict; `next_tempo` is None when the ladder is over."""

    rung: int
    tempo: float
    clean: bool
    failed: tuple[str, ...]
    next_tempo: float | None
    seconds_left: float | None


@dataclass(frozen=True, slots=True)
class Paused:
    """Playing stopped; `reason` is for the player (pressed, kit unplugged, ...)."""

    time_s: float
    reason: str


@dataclass(frozen=True, slots=True)
class Resumed:
    """Playing goes on with a count-in."""

    time_s: float


@dataclass(frozen=True, slots=True)
class Notice:
    """Something the player should read once. `severity` is information, warning or error."""

    text: str
    severity: str = "information"


@dataclass(frozen=True, slots=True)
class Finished:
    """The session is over and saved at `path` (None: nothing was kept)."""

    path: str | None
    summary: dict[str, Any]


Event = (
    BeatStarted
    | PassStarted
    | HitJudged
    | TargetMissed
    | Tally
    | PassEnded
    | RungEnded
    | Paused
    | Resumed
    | Notice
    | Finished
)


@dataclass(frozen=True, slots=True)
class Command:
    """What the player asks for: pause, resume, restart, tempo (amount in BPM), quit, key."""

    name: str
    amount: float = 0.0
    text: str = ""
