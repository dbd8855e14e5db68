"""Tonight's page: its blocks with their why, changed by hand, started and saved."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from opened import Opened
from shots import SIZES, drawn, kept
from stage import shown, wait_until

from trainer.actions.requests import RoutineRequest
from trainer.actions.tonight import TonightRequest
from trainer.archive.routines import RoutineProgressFile, find_routine, load_routine
from trainer.file_system import user_folder
from trainer.practice.routine import RoutineProgress
from trainer.screens.page_screen import screen_of_page
from trainer.screens.pages_tonight import evening_page

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.pilot import Pilot


def tonight() -> Opened:
    """Return the app on a newcomer's evening: two patterns that take turns."""
    request = TonightRequest(user_folder("recordings"), "Pad box", "Ada", 15)
    return Opened(screen_of_page(evening_page(request)))


async def after(pilot: Pilot[None], keys: Sequence[str], words: str) -> str:
    """Press keys and return the screen once some words are on it."""
    await pilot.press(*keys)
    await wait_until(pilot, lambda: words in shown(pilot.app))
    return shown(pilot.app)


@pytest.mark.parametrize("size", SIZES)
async def test_how_it_looks(size: tuple[int, int]) -> None:
    """Each block with its tempo and its why; the keys fit into the footer."""
    app = tonight()
    async with app.run_test(size=size) as pilot:
        screen = await after(pilot, [], "stop when something hurts")
        assert "Hands alone, step 1: clean at 75 BPM" in screen
        assert "? Help" in screen
        assert await drawn(pilot, "tonight", size) == kept("tonight", size)


async def test_it_is_changed_by_hand_and_saved() -> None:
    """The cursor follows the block that is moved; what is saved is what is shown."""
    app = tonight()
    async with app.run_test(size=(80, 40), notifications=True) as pilot:
        await after(pilot, [], "  4  ladder, 4")
        await after(pilot, ["plus", "plus"], "Tonight: 17 minutes")
        await after(pilot, ["minus"], "Tonight: 16 minutes")
        await after(pilot, ["d"], "  2  warm-up, 3 minutes, at 44 BPM, Right hand")
        await after(pilot, ["d"], "  3  warm-up, 3 minutes, at 44 BPM, Right hand")
        await after(pilot, ["u"], "  2  warm-up, 3 minutes, at 44 BPM, Right hand")
        await after(pilot, ["down", "s"], "BPM, Sixteenths for eight bars")
        await after(pilot, ["down", "x"], "Tonight: 12 minutes")
        await after(pilot, ["w"], "What is the routine to be called?")
        await after(pilot, [*"mine", "enter"], "Written")
    blocks = load_routine(find_routine("mine")).blocks
    assert [(one.kind, one.pattern, one.minutes) for one in blocks] == [
        ("ladder", "hands-eighths-and-sixteenths", 4.5),
        ("warm-up", "two-drums-split", 3.0),
        ("ladder", "run-of-eight-bars", 4.5),
    ]


async def test_enter_starts_it_as_a_routine() -> None:
    """On what the page was opened for, with the sessions of the folder that was read."""
    app = tonight()
    async with app.run_test(size=(80, 24)) as pilot:
        await after(pilot, [], "1  warm-up")
        await pilot.press("enter")
        await wait_until(pilot, lambda: bool(app.asked))
    (request,) = app.asked
    assert isinstance(request, RoutineRequest)
    assert request.setup.played_on.port == "Pad box"
    assert request.setup.player == "Ada"
    assert request.setup.recordings == str(user_folder("recordings"))
    assert load_routine(find_routine(request.file)).minutes == 15


@pytest.mark.parametrize("key", ["u", "d", "s", "plus", "minus"])
async def test_a_key_pressed_before_the_page_is_made_again_ends_nothing(key: str) -> None:
    """The block it was meant for is gone already: that is said, and the page stays."""
    app = tonight()
    async with app.run_test(size=(80, 40), notifications=True) as pilot:
        await after(pilot, [], "1  warm-up")
        (take_out,) = (act for act in app.screen.page.acts if act.key == "x")
        take_out.does(app.screen.chosen)
        await after(pilot, [key], "this block was taken out")
        assert "1  warm-up" in shown(app)


async def test_another_length_and_one_that_was_begun() -> None:
    """m asks for the minutes and lays out anew; c continues what was begun, if anything was."""
    app = tonight()
    async with app.run_test(size=(80, 40), notifications=True) as pilot:
        await after(pilot, [], "1  warm-up")
        await after(pilot, ["c"], "no evening of today was begun")
        await pilot.press("enter")
        await wait_until(pilot, lambda: bool(app.asked))
        path = find_routine(app.asked[0].file)
        RoutineProgressFile(path, load_routine(path)).keep(RoutineProgress(1))
        await after(pilot, ["m"], "How many minutes")
        await after(pilot, ["backspace", "backspace", "3", "enter"], "an evening of 3")
        await after(pilot, ["0", "enter"], "Tonight: 30 minutes")
        assert "c continues it" in shown(app)
        await pilot.press("c")
        await wait_until(pilot, lambda: len(app.asked) == 2)
    assert app.asked[1] == app.asked[0]
