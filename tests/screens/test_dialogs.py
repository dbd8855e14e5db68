"""The small questions that lie over a screen."""

from __future__ import annotations

import pytest
from stage import shown, wait_until

from trainer.screens.dialogs import MANY, ChooseScreen
from trainer.screens.trainer_app import TrainerApp

FEW = [("a", "the first [b]one[/b]"), ("b", "the second one")]
MANY_CHOICES = [(f"name-{number}", f"choice {number}") for number in range(2 * MANY)]


async def answer(choices: list[tuple[str, str]], chosen: str | None, *keys: str) -> str | None:
    """Return the answer that some keys lead to."""
    answers: list[str | None] = []
    asked = ChooseScreen("Which?", choices, chosen)
    app = TrainerApp(lambda app: app.push_screen(asked, answers.append))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Which?" in shown(app))
        await pilot.press(*keys)
        await wait_until(pilot, lambda: not app.is_running)
    (one,) = answers
    return one


@pytest.mark.parametrize(
    ("choices", "keys", "answered"),
    [
        (FEW, ["enter"], "a"),
        (FEW, ["down", "enter"], "b"),
        (FEW, ["escape"], None),
        (MANY_CHOICES, ["down", "enter"], "name-1"),
        (MANY_CHOICES, [*"NAME-57", "enter"], "name-57"),
        (MANY_CHOICES, [*"choice 4", "down", "enter"], "name-40"),
        (MANY_CHOICES, [*"none such", "enter", "escape"], None),
    ],
)
async def test_one_of_several_is_chosen(
    choices: list[tuple[str, str]], keys: list[str], answered: str | None
) -> None:
    """By moving, or among many by typing a part of its name or words."""
    assert await answer(choices, None, *keys) == answered


async def test_the_cursor_begins_on_what_is_chosen_now() -> None:
    """Also far down a long list."""
    assert await answer(MANY_CHOICES, "name-50", "enter") == "name-50"
