"""One session over another: what differs by cell, in signs and in words, on one pattern only."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from shelf import LADDER, WRITTEN, Shelf, ladder, replay_of, session
from shots import SIZES, drawn, kept
from stage import pattern, shown, wait_until

from trainer.archive.session_list import SessionEntry
from trainer.archive.summary import judge_session
from trainer.errors import BadInput
from trainer.measure.figure import Figure
from trainer.practice.course import Pass
from trainer.show import comparison_words, hit_map_words
from trainer.show.comparison_words import CHANGE_WORDINGS, change_cell_lines, change_sign
from trainer.show.grid import Cell
from trainer.show.ink import line_text, line_width
from trainer.show.review import ONE_RUNG, Review

SNARE = Cell(0, 0, 1)
"""The first stroke, an accent on the snare, in the second row."""

PATH = Path("earlier [b].jsonl")


def entry() -> SessionEntry:
    """Return the other session as it stands in the list of sessions."""
    started = datetime(2026, 2, 28, 18, 30, tzinfo=UTC)
    tempos = (100.0, 120.0)
    return SessionEntry(PATH, started, "singles", "", "Ada", True, 60.0, 6, 400, tempos, (), {})


def over() -> Review:
    """Return a ladder over one that was 10 ms earlier, 10 softer, and missed another note."""
    review = Review(judge_session(ladder()))
    review.lay_over(judge_session(ladder(late_ms=-6.0, velocity=80, missed=(5,))), "earlier")
    return review


def test_a_difference_is_this_session_minus_the_other() -> None:
    """Ten ms later and ten steps harder in every cell, to the hair that the passes vary by."""
    change = over().change(SNARE)
    assert change is not None
    assert change.offset.value == pytest.approx(10.0, abs=1e-6)
    assert change.power.value == pytest.approx(10.0, abs=1e-6)
    assert change.faults.value == 0.0


def test_what_differs_stands_in_the_cell_and_in_words() -> None:
    """The sign says later by its shape, the words by name, with the interval."""
    review = over()
    assert change_sign(CHANGE_WORDINGS[0], review.change(SNARE).offset, 4) == ("10›", "off")  # type: ignore[union-attr]
    reported = hit_map_words.cell_lines(review, SNARE)
    assert len(reported) == 5
    assert reported[3].startswith("other: 6 due, 6 played; power 82; 5 ms early on average")
    assert reported[4].startswith("here 10 ms later (")
    assert "power 10 harder" in reported[4]
    assert reported[4].endswith("faults and spread no different")


def test_faults_stand_beside_the_letter() -> None:
    """The stroke missed here and played there has more faults, the other one fewer."""
    review = over()
    missed = review.board.grid.cell_of(2)
    lines = change_cell_lines(review.change(missed), "R", 6, 0)  # type: ignore[arg-type]
    assert line_text(lines[1]) == "  R▲  "
    played = review.board.grid.cell_of(5)
    lines = change_cell_lines(review.change(played), "L", 9, 0)  # type: ignore[arg-type]
    assert line_text(lines[1]) == "   L▼100 "


@pytest.mark.parametrize("size", range(1, 10))
def test_every_line_of_a_cell_fits(size: int) -> None:
    """However narrow the cell, its lines are as wide as it is, and three at least."""
    review = over()
    for cell in hit_map_words.filled_cells(review):
        if review.main_notes(cell):
            lines = change_cell_lines(review.change(cell), "R", size, 0)  # type: ignore[arg-type]
            assert [line_width(line) for line in lines] == [size] * 4


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (Figure(-4.2, "ms", 9, -7.0, -1.0), "‹4"),
        (Figure(0.31, "ms", 9, 0.1, 0.5), ".3›"),
        (Figure(4.2, "ms", 9, -1.0, 9.0), "≈"),
        (Figure(None, "ms", 2, why="too few"), "?"),
        (Figure(-123.0, "ms", 9, -130.0, -110.0), "‹"),
    ],
)
def test_a_sign_says_only_what_can_be_reported(change: Figure, expected: str) -> None:
    """No number where chance could do it, none where it does not fit, a point below one."""
    assert change_sign(CHANGE_WORDINGS[0], change, 3)[0] == expected


def test_a_rung_lies_over_the_passes_at_its_tempo() -> None:
    """The rung at 120 BPM has the other's three passes at 120; at no tempo of the other, none."""
    review = over()
    review.choose(ONE_RUNG, 2)
    assert list(review.other_rows() or ()) == [3, 4, 5]
    assert hit_map_words.other_words(review) == "over earlier (its 3 passes at 120 BPM)"
    review.lay_over(judge_session(session((Pass(0, 90.0, 1.0),))), "slow")
    assert hit_map_words.other_words(review) == "over slow (its no passes at 120 BPM)"


def test_another_pattern_is_refused_in_words() -> None:
    """The same name is not enough: bars and notes have to be the same."""
    review = over()
    other = judge_session(session(written=pattern(bars=1), missed=()))
    with pytest.raises(BadInput, match="slow: the other session has another pattern"):
        review.lay_over(other, "slow")
    assert review.other_name == "earlier"


def test_the_map_as_values_has_both_sessions_and_the_difference() -> None:
    """Every written cell and every stray is there once, with its beat and its voice."""
    reported = hit_map_words.hit_map_values(over())
    written = [one for one in reported["cells"] if one["due"]]
    assert len(written) == len(WRITTEN.notes)
    first = next(one for one in written if (one["beat"], one["voice"]) == ("0", "snare"))
    assert first["other"]["played"] == first["played"] == len(LADDER)
    assert first["change"]["offset"]["value"] == pytest.approx(10.0, abs=1e-6)
    assert reported["over"] == "earlier"


def test_names_in_a_sentence_are_joined() -> None:
    """One name, two, three."""
    assert comparison_words.listed_names(["time"]) == "time"
    assert comparison_words.listed_names(["time", "faults", "power"]) == "time, faults and power"


async def test_the_other_session_is_chosen_on_the_screen_and_taken_away() -> None:
    """The key lists sessions of the pattern; its name is plain text; the same key ends it."""
    other = ladder(late_ms=-6.0)
    app = replay_of(Shelf(ladder(), others={PATH: other}, entries=[entry()]))
    async with app.run_test(size=(100, 30), notifications=True) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(app))
        await pilot.press("o")
        await wait_until(pilot, lambda: "100 to 120 BPM  60 seconds  Ada" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: "over earlier [b] (all of it)" in shown(app))
        await wait_until(pilot, lambda: "10 ms later" in shown(app))
        assert "10›" in shown(app)
        await pilot.press("o")
        await wait_until(pilot, lambda: "this session alone" in shown(app))
        await pilot.press("up", "enter")
        await wait_until(pilot, lambda: "over earlier" not in shown(app))


async def test_what_cannot_be_laid_over_is_said() -> None:
    """Another pattern of the same name is a sentence, as is a folder without another session."""
    other = session(written=pattern(bars=1), missed=())
    app = replay_of(Shelf(ladder(), others={PATH: other}, entries=[entry()]))
    async with app.run_test(size=(100, 30), notifications=True) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(app))
        await pilot.press("o")
        await wait_until(pilot, lambda: "Lay this session over" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: "the other session" in shown(app))
        assert "over earlier" not in shown(app)
    alone = replay_of(Shelf(ladder()))
    async with alone.run_test(size=(100, 30), notifications=True) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(alone))
        await pilot.press("o")
        await wait_until(pilot, lambda: "no other session of this pattern" in shown(alone))
        assert "Lay this session over" not in shown(alone)


@pytest.mark.parametrize("size", SIZES)
async def test_how_one_over_another_looks(size: tuple[int, int]) -> None:
    """Each cell says what differs; below are both sessions of the cell under the cursor."""
    other = ladder(late_ms=-6.0, velocity=80, missed=(5,))
    app = replay_of(Shelf(ladder(), others={PATH: other}, entries=[entry()]))
    async with app.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(app))
        await pilot.press("o")
        await wait_until(pilot, lambda: "100 to 120 BPM  60 seconds  Ada" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: "10 ms later" in shown(app))
        assert await drawn(pilot, "over", size) == kept("over", size)
