"""Where on a pad a stroke landed: joins a position controller with the stroke it belongs to.

Kits that tell send the place as a general purpose controller (16 to 19) just before the note (this
is common practice, no source). A value goes to the first stroke that follows within `JOIN_S`; one
that no stroke follows belongs to none.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.midi.wire import POSITIONS

if TYPE_CHECKING:
    from trainer.midi.source import Made

JOIN_S = 0.005
HIGHEST = 127


class StrikePlace:
    """Keeps the last position told until a stroke takes it."""

    def __init__(self) -> None:
        self._value: int | None = None
        self._time_s = 0.0

    def placed(self, made: Made) -> Made:
        """Return the message as it is, a stroke with the position that was told for it."""
        if isinstance(made, Strike):
            value, self._value = self._value, None
            if value is None or made.time_s - self._time_s > JOIN_S:
                return made
            return replace(made, position=value / HIGHEST)
        if made.kind == "control" and made.number in POSITIONS:
            self._value, self._time_s = made.value, made.time_s
        return made
