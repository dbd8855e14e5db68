"""Joins controllers with the stroke they belong to: where on a pad it landed, how the pedal stood.

Kits that tell the place send it as a general purpose controller (16 to 19) just before the note, a
few just after it (this is common practice, no source). A value goes to the first stroke within
`JOIN_S` after it; one that no stroke follows so soon goes to the stroke before it, within `JOIN_S`.
To wait for it every stroke of such a kit is handed on late by as much, with its stamp as it was;
its first stroke only shows what kind it is, and goes without. The pedal's value stays until the
next.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.midi.source import Control
from trainer.midi.wire import PEDAL, POSITIONS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trainer.midi.source import Made

JOIN_S = 0.005
HIGHEST = 127


class StrikePlace:
    """Hears everything in order; `after` is True for a kit that tells the place after the note."""

    def __init__(self) -> None:
        self.after = False
        self._pedal: int | None = None
        self._told: Control | None = None
        self._last: Strike | None = None
        self._held: list[Made] = []

    def hear(self, made: Made) -> list[Made]:
        """Return what can be handed on by now, in order."""
        if isinstance(made, Strike):
            return self._stroke(replace(made, pedal=self._pedal))
        if made.kind == "control" and made.number in POSITIONS:
            return self._place(made)
        if is_pedal(made):
            self._pedal = made.value
        return self._in_order(made)

    def due(self, now_s: float) -> list[Made]:
        """Return what has waited long enough by a second."""
        if self._held and now_s - self._held[0].time_s > JOIN_S:
            return self._released()
        return []

    def _stroke(self, strike: Strike) -> list[Made]:
        told, self._told = self._told, None
        if told and strike.time_s - told.time_s <= JOIN_S:
            self.after = False
            self._last = placed = replace(strike, position=told.value / HIGHEST)
            return [*self._released(), placed]
        if told and self._last and self._last.position is None:
            self.after = told.time_s - self._last.time_s <= JOIN_S
        self._last = strike
        if self.after:
            self._held.append(strike)
            return []
        return [strike]

    def _place(self, told: Control) -> list[Made]:
        for at in reversed(range(len(self._held))):
            one = self._held[at]
            if isinstance(one, Strike):
                if told.time_s - one.time_s > JOIN_S:
                    break
                self._held[at] = replace(one, position=told.value / HIGHEST)
                return [*self._released(), told]
        self._told = told
        return [*self._released(), told]

    def _in_order(self, made: Made) -> list[Made]:
        if not self._held:
            return [made]
        self._held.append(made)
        return []

    def _released(self) -> list[Made]:
        held, self._held = self._held, []
        return held


def is_pedal(made: Made) -> bool:
    """Return True for a movement of the hi-hat pedal."""
    return isinstance(made, Control) and made.kind == "control" and made.number == PEDAL


def with_pedal(strikes: Iterable[Strike], controls: Iterable[Control]) -> Iterator[Strike]:
    """Yield strikes with the value the pedal had, as `StrikePlace` does while they are played."""
    moves = [one for one in controls if is_pedal(one)]
    at, value = 0, None
    for strike in strikes:
        while at < len(moves) and moves[at].time_s <= strike.time_s:
            value = moves[at].value
            at += 1
        yield strike if value is None else replace(strike, pedal=value)
