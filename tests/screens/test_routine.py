"""A routine on the screen: where it stands, what is next, and the rest between two blocks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from shots import SIZES, drawn, kept
from stage import shown, wait_until

from trainer.screens.routine import (
    AGAIN,
    CONTINUE,
    STOP,
    RestScreen,
    RoutineScreen,
    RoutineSheet,
)
from trainer.screens.trainer_app import TrainerApp

if TYPE_CHECKING:
    from textual.screen import Screen

BLOCKS = (
    "warm-up, 5 minutes, Single stroke roll",
    "ladder, 15 minutes, [b]singles[/b]",
    "rest, 3 minutes",
    "open block, 7 minutes",
)
SHEET = RoutineSheet(
    "Between two shows: 30 minutes", BLOCKS, {1: "off would do good"}, 1, "8:30 left", ""
)


def sheet(at: int = 1, large: str = "ladder 8:30") -> RoutineSheet:
    """Return what is shown of a routine that stands at a block."""
    return RoutineSheet(SHEET.title, BLOCKS, SHEET.remarks, at, "8:30 left", large)


def alone(screen: Screen[Any]) -> tuple[TrainerApp, list[str | None]]:
    """Return the app on one screen, and what that is left with."""
    left: list[str | None] = []
    return TrainerApp(lambda app: app.push_screen(screen, left.append)), left


@pytest.mark.parametrize("size", SIZES)
async def test_how_a_routine_looks(size: tuple[int, int]) -> None:
    """Done, next and to come; remarks; the next block in large."""
    app, _ = alone(RoutineScreen(sheet()))
    async with app.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: "block 2 of 4" in shown(app))
        assert "▶  2  ladder, 15 minutes, [b]singles[/b]" in shown(app)
        assert "✓  1  warm-up" in shown(app)
        assert await drawn(pilot, "routine", size) == kept("routine", size)


@pytest.mark.parametrize("size", SIZES)
async def test_how_a_rest_looks(size: tuple[int, int]) -> None:
    """The time left in large, and what comes then."""
    app, _ = alone(RestScreen(179.8, BLOCKS[3], now=lambda: 0.0))
    async with app.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: "Then: open block" in shown(app))
        assert await drawn(pilot, "rest", size) == kept("rest", size)


@pytest.mark.parametrize(
    ("key", "at", "chosen"),
    [("enter", 1, CONTINUE), ("a", 1, AGAIN), ("enter", 4, AGAIN), ("q", 1, None)],
)
async def test_what_the_keys_of_a_routine_come_to(key: str, at: int, chosen: str | None) -> None:
    """Enter goes on; where all is done it begins again."""
    app, left = alone(RoutineScreen(sheet(at)))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Between two shows" in shown(app))
        await pilot.press(key)
        await wait_until(pilot, lambda: not app.is_running)
    assert left == [chosen]


async def test_a_long_routine_shows_the_block_that_is_next() -> None:
    """With more blocks than rows the next one stands in sight."""
    blocks = tuple(f"warm-up, pattern-{place}, 1 minute" for place in range(200))
    app, _ = alone(RoutineScreen(RoutineSheet("Long", blocks, {}, 150, "", "warm-up 1:00")))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "▶ 151  warm-up, pattern-150" in shown(app))
        assert "pattern-149" in shown(app)
        assert "warm-up, pattern-0," not in shown(app)


@pytest.mark.parametrize(
    ("key", "chosen"), [("enter", CONTINUE), ("space", CONTINUE), ("s", STOP), ("q", STOP)]
)
async def test_what_the_keys_of_a_rest_come_to(key: str, chosen: str) -> None:
    """Enter goes on at once, s stops the sitting."""
    app, left = alone(RestScreen(60.0, "", now=lambda: 0.0))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Then the routine is done." in shown(app))
        await pilot.press(key)
        await wait_until(pilot, lambda: not app.is_running)
    assert left == [chosen]


async def test_a_rest_ends_by_itself() -> None:
    """The figures count down, and at nought the routine goes on."""
    now = [0.0]
    app, left = alone(RestScreen(61.0, "", now=lambda: now[0]))
    async with app.run_test(size=(80, 24)) as pilot:
        before = ""
        await wait_until(pilot, lambda: "█" in shown(app))
        before = shown(app)
        now[0] = 30.0
        await wait_until(pilot, lambda: shown(app) != before)
        now[0] = 61.0
        await wait_until(pilot, lambda: not app.is_running)
    assert left == [CONTINUE]
