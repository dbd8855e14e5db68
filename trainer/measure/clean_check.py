"""One thing that is checked of a take: what was measured, what is allowed, is it clean.

A spread is checked in one of three ways (`more`): in a rung whose length the player chose (None),
in one that may still grow (True: the answer may be open), and in one at its longest (False).

A spread is that about the rung's own mean; what that forgives says `trainer.measure.clean`.

Plain Python without NumPy, because the verdict between rungs uses it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from trainer.measure.threshold import SURE_SHARE, room_for_spread, spread_bounds, strokes_worth_one

if TYPE_CHECKING:
    from collections.abc import Sequence

FALSE_ALARM_SHARE = 0.02
"""How often one figure may call a player at the limit unclean: once in fifty."""

_COUNTED = ("missed", "wrong_pad", "stray", "rim", "zone")
"""The checks that count strokes; all others measure them."""


@dataclass(frozen=True, slots=True)
class CleanCheck:
    """One thing that was checked: `measured` against `allowed`, in `unit`, from `count` strokes.

    `place` narrows `label` down where a pattern has several note values. In a rung of open length
    `limit` is the limit without room, and up to `sure` the figure is clean for certain.
    """

    name: str
    label: str
    measured: float
    allowed: float
    unit: str
    count: int
    place: str = ""
    limit: float | None = None
    sure: float | None = None

    @property
    def undecided(self) -> bool:
        """True while more strokes may still decide either way."""
        return self.sure is not None and self.sure < self.measured <= self.allowed

    @property
    def used(self) -> float:
        """How much of its limit is used up: 1 at the limit; 0 for counts."""
        return 0.0 if self.name in _COUNTED else self.measured / max(self._shown, 1e-9)

    @property
    def _shown(self) -> float:
        return max(0.0, self.allowed if self.limit is None else self.limit)

    @property
    def clean(self) -> bool:
        """True while the measured figure is within what is allowed."""
        return self.measured <= self.allowed

    @property
    def excess(self) -> float:
        """How far over: measured by allowed; where none is allowed, one counts as double."""
        return self.measured / max(self.allowed, 0.5)

    def __str__(self) -> str:
        unit, place = f" {self.unit}" * bool(self.unit), f" in {self.place}" * bool(self.place)
        measured, limit = self._figures()
        if self.name in _COUNTED:
            what = self.label.removesuffix("s") if self.measured == 1 else self.label
            return f"{measured} {what}, limit {limit}"
        return f"{self.label} {measured}{unit}{place}, limit {limit}" if self.count else self.label

    def _figures(self) -> tuple[str, str]:
        """Return measured and limit in words, with enough digits to show which is larger."""
        for digits in range(MOST_DIGITS):
            measured, limit = f"{self.measured:.{digits}f}", f"{self._shown:.{digits}f}"
            if self.clean or float(measured) > float(limit):
                break
        return measured, limit

    def document(self) -> dict[str, Any]:
        """Return the check for JSON; figures are not rounded."""
        place = f" in {self.place}" if self.place else ""
        return {
            "what": self.label + place,
            "value": self.measured,
            "allowed": max(0.0, self.allowed),
            "unit": self.unit,
            "words": str(self),
        }


MOST_DIGITS = 7
"""More digits than a figure that fails ever needs to differ from its limit."""


class Series(NamedTuple):
    """Values in time order whose spread is checked, and how many independent ones they are."""

    values: list[float]
    free: float
    measured: float


def spread_check(
    words: tuple[str, str, str, str], series: Series, limit: float, more: bool | None
) -> CleanCheck:
    """Return the check of a spread against its limit; `words` are name, label, unit and place."""
    name, label, unit, place = words
    values, free, measured = series
    count, sure, shown = len(values), None, None
    if more is None:
        room = room_for_spread(limit, free, FALSE_ALARM_SHARE)
    else:
        # Neighbouring intervals share a stroke: their memory is known without being measured.
        independent = max(1.0, min(free, len(values) / strokes_worth_one(values)))
        shown = limit
        if more:
            sure, room = spread_bounds(limit, independent, FALSE_ALARM_SHARE)
        else:
            room = max(limit, room_for_spread(SURE_SHARE * limit, independent, FALSE_ALARM_SHARE))
    return CleanCheck(name, label, measured, room, unit, count, place, shown, sure)


def rms(values: Sequence[float]) -> float:
    """Return the root mean square of values."""
    return math.sqrt(math.fsum(value * value for value in values) / len(values))
