"""A routine: the blocks of one sitting, in order, each with its minutes.

Kinds of block: *warm-up* (a pattern at one tempo), *ladder*, *free* (play what you like; nothing is
asked) and *rest*. How far a sitting has come is a `Progress`, a value that can be kept and taken up
again.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.practice.ladder import STEADY

WARM_UP, LADDER, FREE, REST = "warm-up", "ladder", "free", "rest"
FREE_PLAY = "free-play"
"""The name of what is played in a free block."""

KINDS = (WARM_UP, LADDER, FREE, REST)

LONG_STRETCH_MINUTES = 30.0
"""After so long without a rest one is proposed (common practice: some minutes every half hour)."""

PROPOSED_REST_MINUTES = 5.0


@dataclass(frozen=True, slots=True)
class Block:
    """One block. `tempo` is the warm-up's, `start`, `step`, `top` and the rules are the ladder's.

    None stands for what the command of its kind would choose by itself. Tempos are BPM.
    """

    kind: str
    minutes: float
    pattern: str = ""
    tempo: float | None = None
    start: float | None = None
    step: float = 1.0
    top: float | None = None
    rule: str = STEADY
    clean_to_rise: int = 1
    passes: int | None = None

    @property
    def seconds(self) -> float:
        """The length of the block."""
        return self.minutes * 60.0


@dataclass(frozen=True, slots=True)
class Routine:
    """A title and the blocks, at least one."""

    title: str
    blocks: tuple[Block, ...]

    @property
    def minutes(self) -> float:
        """The whole sitting, rests and all."""
        return sum(block.minutes for block in self.blocks)


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a sitting has come: the block that is next, and the seconds of it already done."""

    block: int = 0
    seconds: float = 0.0

    def left(self, routine: Routine) -> float:
        """Return the seconds left of the block that is next."""
        return max(0.0, routine.blocks[self.block].seconds - self.seconds)

    def after(self) -> Progress:
        """Return the progress once the block is done."""
        return Progress(self.block + 1)

    def over(self, routine: Routine) -> bool:
        """True once every block is done."""
        return self.block >= len(routine.blocks)


def long_stretches(routine: Routine) -> list[tuple[int, float]]:
    """Return where a rest is missing: (block after which to rest, minutes played until then)."""
    found, played = [], 0.0
    for place, block in enumerate(routine.blocks):
        played = 0.0 if block.kind == REST else played + block.minutes
        follows = place + 1 < len(routine.blocks)
        if follows and played >= LONG_STRETCH_MINUTES and routine.blocks[place + 1].kind != REST:
            found.append((place, played))
            played = 0.0
    return found
