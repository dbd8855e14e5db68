"""What landed where: the events of a session kept as marks on the pattern's grid.

Pure: it takes events in and answers what each cell holds. Marks of the last time through stay until
the beat before them comes round again, so that a bar can be read for as long as it takes to play.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.practice.events import HitJudged, TargetMissed
from trainer.practice.outcomes import BOUNCE, MISSED, PLAYED, RIM
from trainer.show.grid import Cell, PatternGrid

if TYPE_CHECKING:
    from trainer.pattern.model import Note, Pattern

REMEMBERED_HITS = 512
"""Hits whose verdict may still change; finals come within a beat, so this is plenty."""


@dataclass(frozen=True, slots=True)
class StrokeMark:
    """What became of one written stroke. `offset_s` minus is early; `outcome` may be `rim`."""

    outcome: str
    offset_s: float | None
    pass_index: int
    hit: int | None = None


@dataclass(frozen=True, slots=True)
class StrayHit:
    """A hit that is not as written: an extra, a double, or the pad a stroke landed on instead.

    `text` is what the row for everything else shows: the note's number or the pad's letters.
    """

    outcome: str
    text: str
    pass_index: int


class Board:
    """The marks on a pattern's grid: `marks` by note of the pattern, `strays` by cell and hit.

    `changes` counts how often each cell, and each row of a bar (bar, row), has changed.
    """

    def __init__(self, pattern: Pattern, grid: PatternGrid | None = None) -> None:
        self.grid = grid or PatternGrid(pattern)
        self.pattern = pattern
        self.marks: dict[int, StrokeMark] = {}
        self.strays: dict[Cell, dict[int, StrayHit]] = {}
        self.changes: Counter[Cell | tuple[int, int]] = Counter()
        self._known: dict[int, tuple[int | None, Cell | None]] = {}

    def _touch(self, cell: Cell) -> None:
        """Note that a cell, and so its row, looks different from now on."""
        self.changes[cell] += 1
        self.changes[cell.bar, cell.row] += 1

    def written(self, note_index: int | None) -> Note | None:
        """Return a note of the pattern."""
        return None if note_index is None else self.pattern.notes[note_index]

    def hit(self, event: HitJudged) -> None:
        """Take in a hit; what was known of the same hit is undone first."""
        self._undo(event.hit)
        note, cell = event.note_index, self.stray_cell(event)
        if note is not None:
            self.marks[note] = mark_of(event)
            self._touch(self.grid.cell_of(note))
        if cell is not None:
            text = str(event.note) if event.voice is None else VOICES[event.voice].tab
            stray = StrayHit(event.outcome, text, event.pass_index)
            self.strays.setdefault(cell, {})[event.hit] = stray
            self._touch(cell)
        self._known[event.hit] = (note, cell)
        while len(self._known) > REMEMBERED_HITS:
            del self._known[next(iter(self._known))]

    def stray_cell(self, event: HitJudged) -> Cell | None:
        """Return the cell of a hit that is not as written, None for a stroke in its place.

        The row is that of its own voice. A note of the pattern gives the column exactly; a beat is
        a float and may round to another.
        """
        if not is_stray(event):
            return None
        row = self.grid.row_of(event.voice)
        if event.note_index is None:
            return Cell(*self.grid.place(event.beat), row)
        return self.grid.cell_of(event.note_index)._replace(row=row)

    def _undo(self, hit: int) -> None:
        note, cell = self._known.pop(hit, (None, None))
        if note is not None and note in self.marks and self.marks[note].hit == hit:
            del self.marks[note]
            self._touch(self.grid.cell_of(note))
        if cell is not None:
            self.strays.get(cell, {}).pop(hit, None)
            self._touch(cell)

    def take_in(self, event: HitJudged | TargetMissed) -> None:
        """Take in a hit or a miss."""
        if isinstance(event, TargetMissed):
            self.missed(event)
        else:
            self.hit(event)

    def missed(self, event: TargetMissed) -> None:
        """Take in that a written stroke was missed for good."""
        self.marks[event.note_index] = mark_of(event)
        self._touch(self.grid.cell_of(event.note_index))

    def make_room(self, bar: int, columns: range, pass_index: int) -> None:
        """Wipe what earlier passes left in some columns, before the beat reaches them."""
        for column in columns:
            for row in range(self.grid.other_row + 1):
                self._wipe(Cell(bar, column, row), pass_index)

    def _wipe(self, cell: Cell, pass_index: int) -> None:
        for note in self.grid.notes.get(cell, ()):
            if note in self.marks and self.marks[note].pass_index < pass_index:
                del self.marks[note]
                self._touch(cell)
        strays = self.strays.get(cell, {})
        for hit in [hit for hit, stray in strays.items() if stray.pass_index < pass_index]:
            del strays[hit]
            self._touch(cell)


def mark_of(event: HitJudged | TargetMissed) -> StrokeMark:
    """Return what became of the written stroke of an event."""
    if isinstance(event, TargetMissed):
        return StrokeMark(MISSED, None, event.pass_index)
    return StrokeMark(event.outcome, event.offset_s, event.pass_index, event.hit)


def is_stray(event: HitJudged | TargetMissed) -> bool:
    """Return whether this is a hit that landed anywhere but where a stroke is written."""
    if isinstance(event, TargetMissed) or event.outcome == BOUNCE:
        return False
    return event.note_index is None or event.outcome not in (PLAYED, RIM)
