"""Looks: the player's theme, signs that do not lean on colour, and text from files as text."""

from __future__ import annotations

from dataclasses import replace

import pytest
from stage import Stage, beat, hit, live_app, pattern, shown, wait_until

from trainer.pattern.model import Level
from trainer.show import signs
from trainer.show.board import StrayHit, StrokeMark
from trainer.show.grid import LARGEST, letter_columns, letter_rows
from trainer.show.ink import line_text


@pytest.mark.parametrize("name", ["night", "paper", "contrast"])
async def test_the_environment_chooses_the_look(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """TEXTUAL_THEME names one of our looks as it would one of Textual's own."""
    monkeypatch.setenv("TEXTUAL_THEME", name)
    stage = Stage()
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        assert pilot.app.theme == name


@pytest.mark.parametrize("size", [1, 2, 3, 4, 5, 9])
def test_outcomes_differ_without_colour(size: int) -> None:
    """All that can become of a stroke looks different in any cell, by its characters alone."""
    reported = [line_text(signs.draw_small_cell(one, size)) for one in faces(size)]
    assert len(set(reported)) == len(reported)
    assert {len(one) for one in reported} == {size}


@pytest.mark.parametrize("letter", range(1, LARGEST + 1))
@pytest.mark.parametrize("more", [0, 1, 2, 5])
def test_outcomes_differ_in_large_without_colour(letter: int, more: int) -> None:
    """The same in letters of any size; an ink that is drawn solid counts as what it looks like."""
    cell, high = letter_columns(letter) + 2 * letter + 1 + more, letter_rows(letter) + more % 2
    reported = [signs.draw_large_cell(one, cell, high, letter) for one in faces(cell)]
    assert {
        line_text(line) for lines in reported for line in lines if len(line_text(line)) != cell
    } == set()
    looks = [tuple(map(line_text, lines)) for lines in reported]
    assert {len(lines) for lines in looks} == {high}
    assert len(set(looks)) == len(looks)


def test_two_characters_say_early_and_late_by_their_side() -> None:
    """An early sign begins on the left edge, a late one ends on the right, on time fills both."""
    reported = {
        name: line_text(signs.draw_small_cell(face, 2)) for name, face in named_faces(2).items()
    }
    assert [reported[name] for name in ("far early", "early", "late", "far late")] == [
        "◄━",
        "‹ ",
        " ›",
        "━►",
    ]
    assert [reported[name] for name in ("on time", "missed", "wrong pad", "extra")] == [
        "▐▌",
        "──",
        "≠ ",
        "+ ",
    ]


def named_faces(size: int) -> dict[str, signs.CellFace]:
    """Return how each outcome of a stroke looks in a cell of some size, and what lands besides."""
    note = pattern().notes[1]
    marks = {
        "to come": [],
        "on time": [StrokeMark("played", 0.0, 0)],
        "early": [StrokeMark("played", -0.015, 0)],
        "far early": [StrokeMark("played", -0.03, 0)],
        "late": [StrokeMark("played", 0.015, 0)],
        "far late": [StrokeMark("played", 0.03, 0)],
        "missed": [StrokeMark("missed", None, 0)],
        "wrong pad": [StrokeMark("wrong pad", 0.0, 0)],
    }
    found = {name: signs.cell_face([note], one, (), size) for name, one in marks.items()}
    strays = {"extra": StrayHit("extra", "SN", 0), "double": StrayHit("double", "SN", 0)}
    found |= {name: signs.cell_face([], [], [one], size) for name, one in strays.items()}
    return found | {"nothing": signs.cell_face([], [], (), size)}


def faces(size: int) -> list[signs.CellFace]:
    """Return them without their names."""
    return list(named_faces(size).values())


async def test_a_title_from_a_file_is_plain_text() -> None:
    """Neither markup nor control characters of a title reach the screen as more than signs."""
    written = pattern(title="[red]x[/red] \x1b[31mred")
    stage = Stage()
    async with live_app(written, stage).run_test(size=(80, 24)) as pilot:
        stage.say(beat(0), hit(0, written, 1, 0.0))
        await wait_until(pilot, lambda: "on time" in shown(pilot.app))
        assert "[red]x[/red] <?>[31mred" in shown(pilot.app)


@pytest.mark.parametrize("letter", range(1, LARGEST + 1))
def test_a_stroke_on_time_is_not_smaller_than_a_late_one(letter: int) -> None:
    """Neither its letter nor all that is drawn of it has fewer characters that are not blank."""
    cell, high = letter_columns(letter) + 2 * letter + 1, letter_rows(letter)

    def drawn(name: str) -> int:
        lines = signs.draw_large_cell(named_faces(cell)[name], cell, high, letter)
        return sum(sign != " " for line in lines for sign in line_text(line))

    assert drawn("on time") >= drawn("late")
    assert drawn("on time") >= drawn("early")


@pytest.mark.parametrize("size", [1, 2, 3, 4, 5, 9])
@pytest.mark.parametrize("offset_s", [0.0, -0.015, 0.03, None])
def test_an_accent_stays_visible_once_it_was_played(size: int, offset_s: float | None) -> None:
    """Small or large, whatever became of it, an accent differs from the same stroke without one."""
    accent = next(one for one in pattern().notes if one.level is Level.ACCENT)
    plain = replace(accent, level=Level.NORMAL)
    mark = [StrokeMark("missed" if offset_s is None else "played", offset_s, 0)]
    pairs = [signs.cell_face([one], mark, (), size) for one in (accent, plain)]
    if size > 2:
        first, second = (line_text(signs.draw_small_cell(one, size)) for one in pairs)
        assert first != second
    large = [signs.draw_large_cell(one, 8, 3, 1) for one in pairs]
    assert large[0] != large[1]


def test_a_choke_is_no_letter_of_a_hand() -> None:
    """What is grabbed has the sign of pattern files, in small and in large letters."""
    struck = replace(pattern().notes[1], voice="crash", zone="")
    faces = [signs.cell_face([replace(struck, zone=zone)], (), (), 5) for zone in ("", "choke")]
    assert "#" in line_text(signs.draw_small_cell(faces[1], 5))
    small = {line_text(signs.draw_small_cell(one, 5)) for one in faces}
    large = {str(signs.draw_large_cell(one, 6, letter_rows(1), 1)) for one in faces}
    assert len(small) == len(large) == 2
