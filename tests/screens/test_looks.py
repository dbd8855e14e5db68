"""Looks: the player's theme, signs that do not lean on colour, and text from files as text."""

from __future__ import annotations

import pytest
from stage import Stage, beat, hit, pattern, shown, wait_until

from trainer.screens import signs
from trainer.screens.app import make_live_app
from trainer.screens.board import Mark
from trainer.screens.ink import text


@pytest.mark.parametrize("name", ["night", "paper", "contrast"])
async def test_the_environment_chooses_the_look(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """TEXTUAL_THEME names one of our looks as it would one of Textual's own."""
    monkeypatch.setenv("TEXTUAL_THEME", name)
    stage = Stage()
    async with make_live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        assert pilot.app.theme == name


@pytest.mark.parametrize("size", [1, 2, 3, 4, 5, 9])
def test_outcomes_differ_without_colour(size: int) -> None:
    """To come, on time, early, late, missed and wrong pad are six different texts in any cell."""
    note = pattern().notes[1]
    marks = [
        [],
        [Mark("played", 0.0, 0)],
        [Mark("played", -0.03, 0)],
        [Mark("played", 0.03, 0)],
        [Mark("missed", None, 0)],
        [Mark("wrong pad", 0.0, 0)],
    ]
    told = [text(signs.draw(signs.face([note], one, (), size), size)) for one in marks]
    assert len(set(told)) == len(told)
    assert {len(one) for one in told} == {size}


async def test_a_title_from_a_file_is_plain_text() -> None:
    """Neither markup nor control characters of a title reach the screen as more than signs."""
    written = pattern(title="[red]x[/red] \x1b[31mred")
    stage = Stage()
    async with make_live_app(written, stage).run_test(size=(80, 24)) as pilot:
        stage.say(beat(0), hit(0, written, 1, 0.0))
        await wait_until(pilot, lambda: "on time" in shown(pilot.app))
        assert "[red]x[/red] <?>[31mred" in shown(pilot.app)
