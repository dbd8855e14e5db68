"""A pattern as a written grid in plain text: steps across, voices down, the sticking below.

Each system is a block of lines: a head line that names the bars, their meter and their steps, a
count line, one line for each voice used in the system, and the sticking. Cells stand between bar
lines, one character a step; `-` is a rest. The reader of tab can therefore read it back.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING

from trainer.kit.voices import ROW, VOICES
from trainer.pattern.tables import HANDS, SIGNS, ZONE_SIGNS, Level, Limb

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from fractions import Fraction

    from trainer.pattern.model import Bar, Note, Pattern

WIDTH = 76
EMPTY = "snare"
"""The row that shows bars in which nothing is struck."""

_LETTER: dict[Limb | None, str] = {Limb.RH: "R", Limb.LH: "L"}


@dataclass(frozen=True, slots=True)
class Grid:
    """One bar as cells: how many steps it has, and the notes at each (row, step).

    A row is a voice, or `voice:zone` for a zone that has no sign of its own.
    """

    number: int
    bar: Bar
    steps: int
    cells: dict[tuple[str, int], list[Note]]

    def row(self, name: str) -> str:
        """Return a row's cells, one character each."""
        return "".join(sign(self.cells.get((name, step), ())) for step in range(self.steps))

    def sticking(self) -> str:
        """Return the hands' letters: B where both strike, b with the left hand on the upper."""
        hands: dict[int, list[Note]] = {}
        for (_, step), notes in self.cells.items():
            mains = [note for note in notes if not note.grace and note.limb in HANDS]
            hands.setdefault(step, []).extend(mains)
        return "".join(_hand_letter(hands.get(step, [])) for step in range(self.steps))

    def count(self) -> str:
        """Return the last digit of each beat's number above its first step."""
        each = self.steps // self.bar.meter.beats
        return "".join(
            str(step // each + 1)[-1] if step % each == 0 else "·" for step in range(self.steps)
        )


def grids(pattern: Pattern) -> Iterator[Grid]:
    """Yield each bar as a grid with the fewest even steps that hold all its strokes."""
    notes = pattern.notes
    low = 0
    for number, bar in enumerate(pattern.bars):
        high = bisect_left(notes, bar.end, lo=low, key=_beat)
        inside = notes[low:high]
        low = high
        places = [(note.beat - bar.start) / bar.meter.length for note in inside]
        steps = step_count(bar.meter.beats, places)
        cells: dict[tuple[str, int], list[Note]] = {}
        for note, place in zip(inside, places, strict=True):
            step = place.numerator * (steps // place.denominator)
            cells.setdefault((_row_name(note), step), []).append(note)
        yield Grid(number, bar, steps, cells)


def step_count(beats: int, places: Iterable[Fraction]) -> int:
    """Return the fewest even steps of a bar, a whole number a beat, that hold all the places.

    Places are shares of the bar, from 0 to 1.
    """
    return math.lcm(beats, *{place.denominator for place in places})


def write(pattern: Pattern, width: int = WIDTH, bars: int | None = None) -> list[str]:
    """Return the lines of a pattern as tab, the whole or its first bars.

    `width` is in characters; a bar that is wider by itself is not broken.
    """
    lines: list[str] = []
    system: list[Grid] = []
    for grid in islice(grids(pattern), bars):
        if system and (_width([*system, grid]) > width or grid.bar.meter != system[0].bar.meter):
            lines += [*_system(system), ""]
            system = []
        system.append(grid)
    return lines + _system(system)


def sign(notes: Sequence[Note]) -> str:
    """Return the character of a cell: the sign that says level, grace strokes and zone."""
    mains = [note for note in notes if not note.grace]
    if not mains:
        return "-"
    note = mains[0]
    if note.zone and (mark := _zone_sign(note)):
        return mark
    graces = min(sum(other.limb != note.limb for other in notes if other.grace), 2)
    usual = "o" if VOICES[note.voice].zones[0] == "head" else "x"
    if not graces and note.level != Level.GHOST:
        return usual.upper() if note.level == Level.ACCENT else usual
    wanted = (note.level if note.level != Level.GHOST or not graces else Level.NORMAL, graces)
    return next(mark for mark, row in SIGNS.items() if (row.level, row.graces) == wanted)


def _zone_sign(note: Note) -> str:
    for (voice, mark), row in ZONE_SIGNS.items():
        if (voice, row.zone, row.level) == (note.voice, note.zone, note.level):
            return mark
    return ""


def _row_name(note: Note) -> str:
    plain = not note.zone or (_zone_sign(note) and not note.grace)
    return note.voice if plain else f"{note.voice}:{note.zone}"


def _row_order(name: str) -> tuple[int, str]:
    voice, _, zone = name.partition(":")
    return ROW[voice], zone


def _label(name: str) -> str:
    voice, _, zone = name.partition(":")
    return VOICES[voice].tab + (f":{zone}" if zone else "")


def _system(system: Sequence[Grid]) -> list[str]:
    first, last = system[0].number + 1, system[-1].number + 1
    bars = f"bar {first}" if first == last else f"bars {first}-{last}"
    names = sorted({name for grid in system for name, _ in grid.cells}, key=_row_order)
    names = names or [EMPTY]
    width = max((len(_label(name)) for name in names), default=2)
    lines = [f"{bars}, {system[0].bar.meter}"]
    lines.append(" " * (width + 2) + " ".join(grid.count() for grid in system))
    for name in names:
        cells = "|".join(grid.row(name) for grid in system)
        lines.append(f"{_label(name):<{width}} |{cells}|")
    sticking = [grid.sticking() for grid in system]
    if any(cells.strip() for cells in sticking):
        lines.append((" " * (width + 2) + " ".join(sticking)).rstrip())
    return lines


def _width(system: Sequence[Grid]) -> int:
    return 4 + sum(grid.steps + 1 for grid in system)


def _hand_letter(notes: Sequence[Note]) -> str:
    if len(notes) < 2:
        return _LETTER.get(notes[0].limb, " ") if notes else " "
    upper = min(notes, key=lambda note: ROW[note.voice])
    return "b" if upper.limb == Limb.LH and notes[0].voice != notes[1].voice else "B"


def _beat(note: Note) -> Fraction:
    return note.beat
