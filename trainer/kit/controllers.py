"""What a kit sends besides notes: the hi-hat pedal's opening, the place of a strike, chokes.

Numbers and directions differ from kit to kit (common practice: controller 4 for the pedal, 16 to 19
for places, pressure on a note for a choke), so they are learned. Pure: messages and times go in.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

OPEN_FROM = 0.5
"""How far the hi-hat must be open for a stroke on it to count as open: half of what was learned
(no source; modules with a note for each have a threshold of their own)."""

HAT_STROKES = 3
"""Strokes closed and strokes open that show whether one note stands for both."""

SWING = 40
"""A controller that moves less than this is not a pedal."""

SWINGS = 3
PLACES_HEARD = 8
PLACE_SPREAD = 30
CHOKES = 2


@dataclass(frozen=True, slots=True)
class Pedal:
    """The controller of the hi-hat pedal, and its value when closed and when open.

    `zones` is True where one note stands for closed and open strokes: the pedal then tells which.
    """

    controller: int
    closed: int
    open: int
    zones: bool = False

    def opening(self, value: int) -> float:
        """Return how far open it is at a value: 0 closed, 1 open."""
        return min(1.0, max(0.0, (value - self.closed) / (self.open - self.closed)))

    def zone(self, value: int) -> str:
        """Return the hi-hat's zone at a value: `closed` or `open`."""
        return "open" if self.opening(value) >= OPEN_FROM else "closed"


@dataclass(frozen=True, slots=True)
class Controllers:
    """What was learned: the pedal, the place controller of voices, the notes that tell a choke."""

    pedal: Pedal | None = None
    places: Mapping[str, int] = field(default_factory=dict)
    chokes: tuple[int, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.pedal or self.places or self.chokes)


NONE = Controllers()


class PedalEar:
    """Hears the pedal being pressed and let up; knows it after `SWINGS` swings."""

    def __init__(self) -> None:
        self._low: dict[int, int] = {}
        self._high: dict[int, int] = {}
        self._swings: Counter[int] = Counter()
        self._side: dict[int, bool] = {}
        self._last: dict[int, int] = {}
        self._pressed: Counter[tuple[int, int]] = Counter()

    def control(self, number: int, value: int) -> None:
        """Hear a controller."""
        low = self._low[number] = min(value, self._low.get(number, value))
        high = self._high[number] = max(value, self._high.get(number, value))
        self._last[number] = value
        if high - low < SWING:
            return
        side = value > (low + high) / 2
        if self._side.get(number, side) != side:
            self._swings[number] += 1
        self._side[number] = side

    def pedal_note(self) -> None:
        """Hear the note of the pedal closing: where its controller now stands is closed."""
        for number, value in self._last.items():
            self._pressed[number, value] += 1

    def learned(self) -> Pedal | None:
        """Return the pedal, None while it is not known."""
        if not self._swings:
            return None
        number, swings = self._swings.most_common(1)[0]
        if swings < 2 * SWINGS:
            return None
        low, high = self._low[number], self._high[number]
        closed = [value for (one, value), _ in self._pressed.items() if one == number]
        # Without a note of its own the higher value is taken for closed (common practice).
        closes_high = not closed or sum(closed) / len(closed) > (low + high) / 2
        return Pedal(number, high, low) if closes_high else Pedal(number, low, high)


class HatEar:
    """Hears the hi-hat struck with the pedal down and up: does one note stand for both?"""

    def __init__(self, pedal: Pedal) -> None:
        self._pedal = pedal
        self._notes: dict[str, Counter[int]] = {"closed": Counter(), "open": Counter()}

    def stroke(self, note: int, pedal: int | None) -> None:
        """Hear a stroke on the hi-hat, and the pedal's value."""
        if pedal is not None:
            self._notes[self._pedal.zone(pedal)][note] += 1

    @property
    def enough(self) -> bool:
        """True once enough strokes of both kinds were heard."""
        return all(heard.total() >= HAT_STROKES for heard in self._notes.values())

    def one_note(self) -> bool:
        """Return True where the same note came most often of both kinds."""
        most = [heard.most_common(1)[0][0] for heard in self._notes.values() if heard]
        return self.enough and len(set(most)) == 1


class PlaceEar:
    """Hears strokes from the middle of a pad to its edge: which controller tells the place?

    The pedal's controller is passed over: it moves while strokes are made, and tells no place.
    """

    def __init__(self, pedal: int | None = None) -> None:
        self._pedal = pedal
        self._values: dict[int, list[int]] = {}
        self.strokes = 0

    def control(self, number: int, value: int) -> None:
        """Hear a controller."""
        if number != self._pedal:
            self._values.setdefault(number, []).append(value)

    def stroke(self) -> None:
        """Hear a stroke on the pad."""
        self.strokes += 1

    @property
    def enough(self) -> bool:
        """True once enough strokes were heard to know."""
        return self.strokes >= PLACES_HEARD

    def learned(self) -> int | None:
        """Return the controller that moved with the strokes, None where none did."""
        moved = {
            number: max(values) - min(values)
            for number, values in self._values.items()
            if len(values) >= PLACES_HEARD // 2
        }
        if not moved:
            return None
        number = max(moved, key=lambda one: moved[one])
        return number if moved[number] >= PLACE_SPREAD else None
