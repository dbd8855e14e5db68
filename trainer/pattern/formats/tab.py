"""Drum tab in plain text: bars as grids of characters, written and sorted out again.

Written tab has steps across, voices down and the sticking below. Each system is a block of lines:
a head line that names the bars, their meter and their steps, a count line, one line for each voice
used in the system, and the sticking. Cells are between bar lines, one character a step; `-` is a
rest. The lines of a tab file are sorted into headings, rows in systems, sticking, values and
changes; what they mean in time is read in `trainer.pattern.formats.tab_file`.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left
from dataclasses import dataclass, field
from itertools import islice
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.voices import ROW, VOICES, place_text
from trainer.pattern.as_played import bar_beats
from trainer.pattern.model import HANDS, SIGNS, ZONE_SIGNS, Level, Limb, Meter, beat_of
from trainer.toml_text import toml_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from fractions import Fraction

    from trainer.pattern.model import Bar, Note, Pattern


WIDTH = 76
EMPTY = "snare"
"""The row that shows bars in which nothing is struck."""

_LETTER: dict[Limb | None, str] = {Limb.RH: "R", Limb.LH: "L"}


@dataclass(frozen=True, slots=True)
class BarGrid:
    """One bar as cells: how many steps and beats it has, and the notes at each (row, step).

    A row is a voice, or `voice/zone` for a zone that has no sign of its own.
    """

    number: int
    bar: Bar
    steps: int
    cells: dict[tuple[str, int], list[Note]]
    beats: int

    def row(self, name: str) -> str:
        """Return a row's cells, one character each."""
        return "".join(cell_sign(self.cells.get((name, step), ())) for step in range(self.steps))

    def sticking(self) -> str:
        """Return the hands' letters: B where both strike, b with the left hand on the upper."""
        hands: dict[int, list[Note]] = {}
        for (_, step), notes in self.cells.items():
            mains = [note for note in notes if not note.grace and note.written_limb in HANDS]
            hands.setdefault(step, []).extend(mains)
        return "".join(_hand_letter(hands.get(step, [])) for step in range(self.steps))

    def count(self) -> str:
        """Return the last digit of each beat's number above its first step."""
        each = self.steps // self.beats
        return "".join(
            str(step // each + 1)[-1] if step % each == 0 else "·" for step in range(self.steps)
        )


def bar_grids(pattern: Pattern) -> Iterator[BarGrid]:
    """Yield each bar as a grid with the fewest even steps that hold all its strokes."""
    notes = pattern.notes
    low = 0
    for number, bar in enumerate(pattern.bars):
        high = bisect_left(notes, bar.end, lo=low, key=beat_of)
        inside = notes[low:high]
        low = high
        places = [(note.beat - bar.start) / bar.meter.length for note in inside]
        steps = step_count(bar.meter.beats, places)
        cells: dict[tuple[str, int], list[Note]] = {}
        for note, place in zip(inside, places, strict=True):
            step = place.numerator * (steps // place.denominator)
            cells.setdefault((_row_name(note), step), []).append(note)
        yield BarGrid(number, bar, steps, cells, bar_beats(pattern, bar.meter))


def step_count(beats: int, places: Iterable[Fraction]) -> int:
    """Return the fewest even steps of a bar, a whole number a beat, that hold all the places.

    Places are shares of the bar, from 0 to 1.
    """
    return math.lcm(beats, *{place.denominator for place in places})


def to_tab(pattern: Pattern, width: int = WIDTH, bars: int | None = None) -> list[str]:
    """Return the lines of a pattern as tab, the whole or its first bars.

    `width` is in characters; a single bar that is wider is not broken.
    """
    lines: list[str] = []
    system: list[BarGrid] = []
    for grid in islice(bar_grids(pattern), bars):
        if system and (_width([*system, grid]) > width or grid.bar.meter != system[0].bar.meter):
            lines += [*_system(system), ""]
            system = []
        system.append(grid)
    return lines + _system(system)


def cell_sign(notes: Sequence[Note]) -> str:
    """Return the character of a cell: the sign that says level, grace strokes and zone."""
    mains = [note for note in notes if not note.grace]
    if not mains:
        return "-"
    note = mains[0]
    if note.zone and (mark := _zone_sign(note)):
        return mark
    graces = min(sum(other.limb != note.limb for other in notes if other.grace), 2)
    if note.buzz and not graces and note.level != Level.GHOST:
        return "Z" if note.level == Level.ACCENT else "z"
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
    return place_text(note.voice, "" if plain else note.zone)


def _row_order(name: str) -> tuple[int, str]:
    voice, _, zone = name.partition("/")
    return ROW[voice], zone


def _label(name: str) -> str:
    voice, _, zone = name.partition("/")
    return place_text(VOICES[voice].tab, zone)


def _system(system: Sequence[BarGrid]) -> list[str]:
    first, last = system[0].number + 1, system[-1].number + 1
    bars = f"bar {first}" if first == last else f"bars {first}-{last}"
    names = sorted({name for grid in system for name, _ in grid.cells}, key=_row_order)
    names = names or [EMPTY]
    width = max((len(_label(name)) for name in names), default=2)
    lines = [f"{bars}, {system[0].bar.meter.written}"]
    lines.append(" " * (width + 2) + " ".join(grid.count() for grid in system))
    for name in names:
        cells = "|".join(grid.row(name) for grid in system)
        lines.append(f"{_label(name):<{width}} |{cells}|")
    sticking = [grid.sticking() for grid in system]
    if any(cells.strip() for cells in sticking):
        lines.append((" " * (width + 2) + " ".join(sticking)).rstrip())
    return lines


def _width(system: Sequence[BarGrid]) -> int:
    return 4 + sum(grid.steps + 1 for grid in system)


def _hand_letter(notes: Sequence[Note]) -> str:
    if len(notes) < 2:
        return _LETTER.get(notes[0].limb, " ") if notes else " "
    upper = min(notes, key=lambda note: ROW[note.voice])
    return "b" if upper.limb == Limb.LH and notes[0].voice != notes[1].voice else "B"


_HEADING = re.compile(r"([a-z_]+) *=")
_SPOKEN = re.compile(r"(title|tempo|bpm) *:(.*)", re.ASCII | re.IGNORECASE)
_BPM = re.compile(r"(\d{1,4}(?:\.\d{1,4})?) *(?:bpm)?", re.ASCII | re.IGNORECASE)
_BARS = re.compile(
    r"(?:bars? \d[\d-]*, |meter *: *|time *: *)(\d{1,3})/(\d{1,2})(?: +([\d+]{1,200}))?\s*",
    re.ASCII | re.IGNORECASE,
)
_ROW = re.compile(r"\s*([A-Za-z]\w{0,2})(?:([:/])([a-z-]+))?\s*\|(.*)", re.ASCII)
_STICKING = set("RLBb ")
_VALUES = re.compile(r"bar (\d{1,6}), values: (.*)", re.ASCII)
_CHANGE = re.compile(r"[+-] beat=.*")

_OTHER_LETTERS = {
    "H": "hihat", "S": "snare", "SD": "snare", "B": "kick", "K": "kick", "KD": "kick",
    "C": "crash", "CR": "crash", "C1": "crash", "R": "ride", "RC": "ride", "T": "tom1",
    "HT": "tom1", "MT": "tom2", "LT": "tom3", "F": "floor", "F1": "floor", "FH": "pedal",
    "LF": "pedal", "PH": "pedal",
}  # fmt: skip
"""Letters other people use (common practice), beside the two of each voice."""

LETTERS = _OTHER_LETTERS | {voice.tab: voice.name for voice in VOICES.values()}


@dataclass(slots=True)
class TabSystem:
    """The rows of some bars: per row its voice, zone and cells, and the sticking below.

    `meter` is None where none is written above.
    """

    line: int
    meter: Meter | None
    rows: list[tuple[str, str, list[str], int]] = field(default_factory=list)
    sticking: str = ""


@dataclass(slots=True)
class ParsedTab:
    """A file taken apart, before any time is counted."""

    headings: list[str] = field(default_factory=list)
    systems: list[TabSystem] = field(default_factory=list)
    values: list[tuple[int, int, str]] = field(default_factory=list)
    changes: list[tuple[int, str]] = field(default_factory=list)


def parse_tab(text: str) -> ParsedTab:
    """Sort the lines: headings, rows in systems with their sticking, changes."""
    tab = ParsedTab()
    meter: Meter | None = None
    open_system: TabSystem | None = None
    for number, line in enumerate(text.splitlines(), 1):
        row = _ROW.fullmatch(line.rstrip())
        if not tab.systems and not row and _HEADING.match(line):
            tab.headings.append(line)
        elif not tab.systems and (spoken := _SPOKEN.fullmatch(line)):
            tab.headings.append(_spoken(spoken[1].lower(), spoken[2].strip(), number))
        elif found := _BARS.fullmatch(line):
            meter, open_system = _meter(found[1], found[2], found[3] or "", number), None
        elif row:
            if open_system is None:
                open_system = TabSystem(number, meter)
                tab.systems.append(open_system)
            open_system.rows.append(_row(row, number))
        elif open_system and not open_system.sticking and _is_sticking(line):
            open_system.sticking = line
        else:
            open_system = None
            if reported := _VALUES.fullmatch(line):
                tab.values.append((number, int(reported[1]), reported[2]))
            elif _CHANGE.fullmatch(line):
                tab.changes.append((number, line))
    return tab


def _is_sticking(line: str) -> bool:
    return set(line) <= _STICKING and not line.isspace() and line != ""


def _spoken(key: str, text: str, line: int) -> str:
    """Return a heading such as `tempo: 96 BPM` as TOML."""
    if key == "title":
        return toml_text({"title": text}).rstrip()
    bpm = _BPM.fullmatch(text)
    if not bpm:
        raise BadInput(
            f'"{text[:40]}" is no tempo', where=f"line {line}", fix="write it like tempo: 96"
        )
    return f"tempo = {bpm[1].lstrip('0') or '0'}"


def _meter(beats: str, unit: str, grouped: str, line: int) -> Meter:
    groups = tuple(int(size or 0) for size in grouped.split("+")) if grouped else ()
    known = 1 <= int(beats) <= 256 and int(unit) in (1, 2, 4, 8, 16, 32, 64)
    if not known or (groups and (sum(groups) != int(beats) or 0 in groups)):
        raise BadInput(
            f"the meter {beats}/{unit} {grouped}".rstrip() + " cannot be read",
            where=f"line {line}",
            fix="write it like 7/8, or 7/8 2+2+3",
        )
    return Meter(int(beats), int(unit), groups)


def _row(found: re.Match[str], line: int) -> tuple[str, str, list[str], int]:
    """Return a row's voice, zone, cells bar by bar, and the column its cells begin in."""
    voice = LETTERS.get(found[1].upper())
    if voice is None:
        raise BadInput(
            f'no drum has the letters "{found[1]}"',
            where=f"line {line}",
            fix=f"use one of {', '.join(voice.tab for voice in VOICES.values())}",
        )
    zone = found[3] or ""
    if found[2] == ":":
        raise BadInput(
            f'"{found[1]}:{zone}" is the old spelling',
            where=f"line {line}",
            fix=f'write "{found[1]}/{zone}"',
        )
    if zone and zone not in VOICES[voice].zones:
        zones = ", ".join(VOICES[voice].zones)
        raise BadInput(
            f'the {voice} has no zone "{zone}"', where=f"line {line}", fix=f"it has {zones}"
        )
    plain = "" if zone == VOICES[voice].zones[0] else zone
    return voice, plain, found[4].rstrip().removesuffix("|").split("|"), found.start(4)
