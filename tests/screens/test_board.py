"""Marks on the grid: what each event leaves behind, and what takes it away again."""

from __future__ import annotations

from stage import hit, pattern

from trainer.practice.events import TargetMissed
from trainer.show.board import Board
from trainer.show.grid import Cell


def test_a_hit_marks_its_note() -> None:
    """The mark keeps outcome and offset; nothing strays."""
    written = pattern()
    board = Board(written)
    board.hit(hit(0, written, 3, -12.0))
    assert board.marks[3].offset_s == -0.012
    assert not any(board.strays.values())


def test_a_final_word_replaces_the_first() -> None:
    """A hit that turns out to be an extra gives its note back and strays instead."""
    written = pattern()
    board = Board(written)
    board.hit(hit(0, written, 3, -12.0))
    board.hit(hit(0, written, None, None, outcome="extra", at=0.5, final=True))
    assert 3 not in board.marks
    assert [stray.outcome for stray in board.strays[Cell(0, 2, 1)].values()] == ["extra"]


def test_a_taken_back_hit_leaves_the_mark_of_another() -> None:
    """When a second hit won a note, taking back the first must not wipe it."""
    written = pattern()
    board = Board(written)
    board.hit(hit(0, written, 3, -30.0))
    board.hit(hit(1, written, 3, 1.0))
    board.hit(hit(0, written, None, None, outcome="extra", final=True))
    assert board.marks[3].hit == 1


def test_a_wrong_pad_shows_at_both_places() -> None:
    """The written cell is marked, and the pad that was hit carries a sign on the same step."""
    written = pattern()
    board = Board(written)
    index = next(i for i, note in enumerate(written.notes) if note.voice == "snare")
    board.hit(hit(0, written, index, 4.0, outcome="wrong pad", voice="floor"))
    assert board.marks[index].outcome == "wrong pad"
    row = board.grid.row_of("floor")
    assert board.strays[board.grid.cell_of(index)._replace(row=row)][0].outcome == "wrong pad"


def test_an_unknown_note_keeps_its_number() -> None:
    """A note the kit does not know stands on the last row by its number."""
    written = pattern()
    board = Board(written)
    board.hit(hit(0, written, None, None, outcome="extra", voice=None, note=77, at=1.0))
    assert board.strays[Cell(0, 4, board.grid.other_row)][0].text == "77"


def test_room_is_made_for_the_new_pass_only() -> None:
    """Old marks go before the beat comes; a stroke of the new pass that came early stays."""
    written = pattern()
    board = Board(written)
    board.missed(TargetMissed(0, 0, 0))
    board.hit(hit(0, written, 1, 3.0, pass_index=0))
    board.hit(hit(1, written, None, None, outcome="extra", at=0.0, pass_index=0))
    board.hit(hit(2, written, 1, -15.0, pass_index=1))
    board.make_room(0, range(4), 1)
    assert set(board.marks) == {1}
    assert board.marks[1].pass_index == 1
    assert not any(board.strays.values())
