"""The interface that every source of hits has: a MIDI port, the computer keys, a simulated player.

Times are seconds on the session's clock. A source hands out strikes and controls in order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainer.kit.hits import Strike

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.practice.course import Target
    from trainer.practice.events import Command


@dataclass(frozen=True, slots=True)
class Control:
    """A controller or aftertouch message: pedal opening, strike position, choke.

    `kind` is `control` (`number` is the controller) or `choke` (`number` is the note).
    """

    time_s: float
    kind: str
    number: int
    value: int


SourceEvent = Strike | Control


class HitSource:
    """A maker of hits. Every call returns at once; times are seconds on the session's clock.

    What is not overridden says that there is nothing to it. A source that wraps another one passes
    on everything the other may say.
    """

    @property
    def name(self) -> str:
        """What the maker is called."""
        return ""

    @property
    def lost(self) -> bool:
        """True while the device is gone."""
        return False

    @property
    def trouble(self) -> str:
        """What is wrong with the device, in words that follow its name; empty while unknown."""
        return ""

    @property
    def resolution_ms(self) -> float | None:
        """The finest time that the hits can be trusted to, None where nothing is known."""
        return None

    def open(self, zero_s: float) -> None:
        """Start listening. `zero_s` is `time.perf_counter()` at the session's second 0."""

    def expect(self, targets: Sequence[Target]) -> None:
        """Take in what will be due (only the simulated player cares)."""

    def press(self, key: str, now_s: float) -> bool:
        """Take a computer key pressed at a time; return whether it is a pad here."""
        del key, now_s
        return False

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return what has arrived since the last call, in order."""
        raise NotImplementedError

    def news(self) -> list[str]:
        """Return what the player should know since the last call."""
        return []

    def wishes(self) -> list[Command]:
        """Return what something outside has requested since the last call."""
        return []

    def quality(self) -> dict[str, Any]:
        """Return how well strikes were stamped in this run, safe for JSON (may be empty)."""
        return {}

    def close(self) -> None:
        """Stop listening; closing twice is harmless."""
