"""A hit as the rest of the program sees it: when, on which voice and zone, how hard."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Strike:
    """One raw note-on from any maker of hits.

    `time_s` is in seconds on the session's clock (0 = the session's start), as the driver stamped
    it, before any latency is taken out. `position` is 0 (middle) to 1 (edge) where the kit tells;
    `pedal` the last value (0 to 127) of the hi-hat pedal's controller, None before the first. A
    session file has that as lines of its own.
    """

    time_s: float
    note: int
    velocity: int
    position: float | None = None
    pedal: int | None = None


@dataclass(frozen=True, slots=True)
class Hit:
    """A strike read through the kit.

    `time_s` has the kit's latency taken out (that is the time offsets are counted from). `voice`
    is None for a note the kit does not know; such hits are shown and count as extra. `flag` is
    empty, or what the filter found: `double` or `crosstalk`. Flagged hits are kept and marked.
    `power` is the velocity through the pad's own curve (0 to 127), alike on every pad; None where
    nobody read it through one, then `strength` is the velocity itself. `zones` are all zones of
    the voice that the kit can send, empty where that is not known.
    """

    index: int
    time_s: float
    note: int
    velocity: int
    voice: str | None
    zone: str = ""
    position: float | None = None
    flag: str = ""
    power: float | None = None
    zones: frozenset[str] = frozenset()

    @property
    def strength(self) -> float:
        """How hard the stroke was, 0 to 127, to be compared across pads."""
        return float(self.velocity) if self.power is None else self.power
