"""The interface that every source of hits has: a MIDI port, the computer keys, a simulated player.

Times are seconds on the session's clock. A source hands out strikes and controls in order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from trainer.kit.hits import Strike

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.practice.course import Target


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


class HitSource(Protocol):
    """A maker of hits. Every call returns at once; times are seconds on the session's clock."""

    @property
    def name(self) -> str:
        """What the maker is called."""
        ...

    def open(self, zero_s: float) -> None:
        """Start listening. `zero_s` is `time.perf_counter()` at the session's second 0."""
        ...

    def expect(self, targets: Sequence[Target]) -> None:
        """Take in what will be due (only the simulated player cares)."""
        ...

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return what has arrived since the last call, in order."""
        ...

    @property
    def lost(self) -> bool:
        """True while the device is gone."""
        ...

    def quality(self) -> dict[str, Any]:
        """Return how well strikes were stamped in this run, safe for JSON (may be empty)."""
        ...

    def close(self) -> None:
        """Stop listening; closing twice is harmless."""
        ...
