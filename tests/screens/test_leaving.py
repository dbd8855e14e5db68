"""Leaving at once: what is still being read or counted then never meets a screen that is gone."""

from __future__ import annotations

import asyncio
import threading
import time
from typing import TYPE_CHECKING, Any

import pytest
from at_home import AtHome
from opened import Opened
from patience import LIMIT_S
from shelf import Shelf, session
from stage import shown, wait_until

from trainer.actions.history import FolderSessions, HistoryRequest
from trainer.actions.requests import PlayRequest
from trainer.screens.history import HistoryScreen
from trainer.screens.pages import PAGES, page_of
from trainer.screens.patterns import PatternsScreen
from trainer.screens.replay import OpeningScreen
from trainer.screens.trainer_app import TrainerApp
from trainer.show.page import Page, PagePart

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from textual.screen import Screen

    from trainer.show.page import ReportProgress


@pytest.mark.parametrize("name", PAGES)
async def test_a_page_can_be_left_at_once_again_and_again(name: str) -> None:
    """Home is back each time, whatever the page was about to tell."""
    app = AtHome(page_of=page_of)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        for leave, pause in (("q", 0), ("escape", 0.003), ("q", 0.03)):
            app.home.action_open(name)
            await pilot.pause(pause)
            await pilot.press(leave)
            await wait_until(pilot, lambda: app.screen is app.home)
    assert app.failure is None


@pytest.mark.parametrize("turns", range(5))
async def test_home_can_be_left_while_a_page_opens(turns: int) -> None:
    """The app ends without a fault, however far the page has come by then."""
    app = AtHome(page_of=page_of)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        app.home.action_open("advice")
        for _ in range(turns):
            await asyncio.sleep(0)
        app.exit()
    assert app.failure is None


async def test_what_comes_after_the_page_was_closed_is_dropped() -> None:
    """Work that ends in the very turn in which the page is closed finds nobody, and hears of it."""
    made, closed, heard = threading.Event(), threading.Event(), list[str]()

    def show(progress: ReportProgress) -> Iterable[PagePart]:
        yield PagePart("at once")
        made.set()
        closed.wait(LIMIT_S)
        try:
            progress("too late")
        except BaseException as left:
            heard.append(type(left).__name__)
            raise

    app = AtHome(page_of=lambda *_: Page("Slow", "", "trainer slow", show))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        app.home.action_open("slow")
        await wait_until(pilot, made.is_set)
        page = app.screen
        closed.set()
        time.sleep(0.1)  # holds the event loop: the work already waits for its turn there
        page.dismiss()
        await wait_until(pilot, lambda: app.screen is app.home)
        await wait_until(pilot, lambda: bool(heard))
        assert heard == ["PageLeft"]
    assert app.failure is None


@pytest.mark.parametrize("pause", [0, 0.001, 0.005, 0.02, 0.06])
@pytest.mark.parametrize("kind", ["history", "patterns", "composer", "replay"])
async def test_a_screen_can_be_left_while_it_reads(kind: str, pause: float, tmp_path: Path) -> None:
    """The terminal is back at once, without a fault."""

    def look(_folder: Path, report: Callable[[int], None]) -> FolderSessions:
        report(250)
        return FolderSessions(())

    screens: dict[str, Callable[[], Screen[Any]]] = {
        "history": lambda: HistoryScreen(HistoryRequest(tmp_path), look=look),
        "patterns": PatternsScreen,
        "composer": lambda: PatternsScreen("singles", compose_first=True),
        "replay": lambda: OpeningScreen(Shelf(session())),
    }
    app = Opened(screens[kind]())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(pause)
        await pilot.press("escape" if kind == "composer" else "q")
        if kind == "composer":
            await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running or app._exit)
    assert app.failure is None


async def test_what_is_to_follow_is_played_where_the_first_screen_was_left() -> None:
    """Asked for while something is played, it comes next; the app ends after it, not before."""
    played: list[Any] = []
    end = asyncio.Event()

    async def plays(_: TrainerApp, request: Any) -> None:
        played.append(request)
        await end.wait()

    first, second = PlayRequest("singles"), PlayRequest("leapfrog")
    app = TrainerApp(lambda app: app.play(first), plays)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: played == [first])
        app.play(second)
        await pilot.pause()
        end.set()
        await wait_until(pilot, lambda: played == [first, second])
        await wait_until(pilot, lambda: not app.is_running)
