"""A routine: the blocks of one practice session in order, and the reminder to rest.

Kinds of block: *warm-up* (a pattern at one tempo), *ladder*, *free* (play what you like; nothing is
judged) and *rest*. `RoutineProgress` is how far a session has come: a value that can be kept and
continued later.

The reminder: playing time begins with a stroke and ends where none comes for BREAK_S. After
PLAYING_LIMIT_S of it the player is reminded once to rest: long repetition without rest is what
hurts hands (common practice, no source; so are both times).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from trainer.practice.events import Notice

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

WARM_UP, LADDER, FREE, REST = "warm-up", "ladder", "free", "rest"
FREE_PLAY = "free-play"
"""The name of what is played in a free block."""

BLOCK_KINDS = (WARM_UP, LADDER, FREE, REST)

MOST_MINUTES_WITHOUT_REST = 30.0
"""After so long without a rest one is proposed (common practice: some minutes every half hour)."""

PROPOSED_REST_MINUTES = 5.0


@dataclass(frozen=True, slots=True)
class Block:
    """One block. `tempo` is the warm-up's, `start`, `step`, `top` and the rules are the ladder's.

    `title` is that of its pattern, `aim` the tempo to be clean at, where a teacher set one. `click`
    are the texts of what its click plays, by name (`trainer.practice.click_figure`). None means
    what the command of its kind chooses automatically. Tempos are BPM. `source` is where the
    pattern is opened when the routine's file carries it.
    """

    kind: str
    minutes: float
    pattern: str = ""
    tempo: float | None = None
    start: float | None = None
    step: float | None = None
    top: float | None = None
    rule: str | None = None
    clean_to_rise: int = 1
    passes: int | None = None
    aim: float | None = None
    click: tuple[tuple[str, str], ...] = ()
    source: str = ""
    title: str = field(default="", repr=False, compare=False)

    @property
    def opened(self) -> str:
        """What opens the pattern: a name or path, with its changes."""
        return self.source or self.pattern

    @property
    def seconds(self) -> float:
        """The length of the block."""
        return self.minutes * 60.0


@dataclass(frozen=True, slots=True)
class Routine:
    """A title and the blocks, at least one.

    An assignment has a `word` from the teacher and the first day of its `week` as well. `carried`
    are the pattern files it brings along, by their names.
    """

    title: str
    blocks: tuple[Block, ...]
    word: str = ""
    week: date | None = None
    carried: Mapping[str, bytes] = field(default_factory=dict, repr=False)

    @property
    def minutes(self) -> float:
        """The whole session, rests and all."""
        return sum(block.minutes for block in self.blocks)


@dataclass(frozen=True, slots=True)
class RoutineProgress:
    """How far a session has come: the block that is next, and the seconds of it already done."""

    block: int = 0
    seconds: float = 0.0

    def left(self, routine: Routine) -> float:
        """Return the seconds left of the block that is next."""
        return max(0.0, routine.blocks[self.block].seconds - self.seconds)

    def after(self) -> RoutineProgress:
        """Return the progress once the block is done."""
        return RoutineProgress(self.block + 1)

    def over(self, routine: Routine) -> bool:
        """True once every block is done."""
        return self.block >= len(routine.blocks)


def missing_rests(routine: Routine) -> list[tuple[int, float]]:
    """Return where a rest is missing: (block after which to rest, minutes played until then)."""
    found, played = [], 0.0
    for place, block in enumerate(routine.blocks):
        played = 0.0 if block.kind == REST else played + block.minutes
        follows = place + 1 < len(routine.blocks)
        if (
            follows
            and played >= MOST_MINUTES_WITHOUT_REST
            and routine.blocks[place + 1].kind != REST
        ):
            found.append((place, played))
            played = 0.0
    return found


PLAYING_LIMIT_S = 30 * 60.0
BREAK_S = 120.0

REST_NOTICE = "Half an hour without a break. Rest a few minutes; stop if it hurts"


class RestReminder:
    """Strokes go in by their times, in seconds; a notice comes out once a stretch."""

    def __init__(self) -> None:
        self._began_s = self._last_s = float("-inf")
        self._reported = False

    def stroke(self, time_s: float) -> list[Notice]:
        """Take in a stroke, whether or not it is judged."""
        if time_s - self._last_s >= BREAK_S:
            self._began_s = time_s
            self._reported = False
        self._last_s = time_s
        if self._reported or time_s - self._began_s < PLAYING_LIMIT_S:
            return []
        self._reported = True
        return [Notice(REST_NOTICE, "warning")]
