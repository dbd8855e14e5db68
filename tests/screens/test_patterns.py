"""The pattern browser: finding, looking, and what every key leads to."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from opened import Opened
from shots import SIZES, drawn, kept
from stage import shown, wait_until

from trainer.actions.requests import PlayRequest, setup_on
from trainer.file_system import shipped_folder
from trainer.pattern import library
from trainer.pattern.library import PatternFilter
from trainer.screens.patterns import PatternsScreen

if TYPE_CHECKING:
    from textual.pilot import Pilot

    from trainer.actions.patterns import SheetRequest

ALL = len(list(shipped_folder("patterns").glob("*.toml")))

STUDY = """
title = "Kept for pictures"
about = "Accents that move over steady feet."
tags = ["accents", "kept"]
level = 2
hands = { sticking = ">RLRL R>LRL RL>RL RLR>L", value = "16", path = "snare x12, tom1 x4" }
feet = "offbeats"
"""

PRINTED: list[SheetRequest] = []


def app(at: str = "", **more: Any) -> Opened:
    """Return the browser with a printer that only remembers."""

    def write(request: SheetRequest) -> list[Path]:
        PRINTED.append(request)
        return [request.output]

    return Opened(PatternsScreen(at, write=write, **more))


async def opened(pilot: Pilot[object], sign: str = "strokes: ") -> None:
    """Wait until list and preview stand there."""
    await wait_until(pilot, lambda: "Patterns: " in shown(pilot.app) and sign in shown(pilot.app))


async def test_it_opens_on_the_list_with_the_pattern_under_the_cursor_drawn() -> None:
    """The count, the first pattern, its counts by limb and its tab with the sticking."""
    async with app(at="single-paradiddle").run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        assert f"of {len(library.catalogue())}" in shown(pilot.app)
        await wait_until(pilot, lambda: "right hand 8, left hand 8" in shown(pilot.app))
        assert "RLRRLRLLRLRRLRLL" in shown(pilot.app)


@pytest.mark.parametrize(
    ("keys", "head"),
    [
        (["4"], "level 4"),
        (["4", "2"], "level 2"),
        (["4", "0"], f"Patterns: {ALL} of {ALL}"),
        (["m"], "for RH"),
        (["m", "m", "m"], "for RF"),
        (["m", "m", "m", "m", "m"], f"Patterns: {ALL} of {ALL}"),
        (["t", "down", "enter"], "tag singles"),
        (["t", "down", "escape"], f"Patterns: {ALL} of {ALL}"),
        (["slash", "p", "a", "r", "a"], '"para"'),
        (["slash", "p", "a", "r", "a", "enter", "3"], '"para", level 3'),
        (["slash", "z", "q", "x"], "Nothing fits"),
        (["slash", "z", "q", "escape"], f"Patterns: {ALL} of {ALL}"),
    ],
)
async def test_filters_say_what_they_leave(keys: list[str], head: str) -> None:
    """Words, tag, level and limb narrow the list; escape and 0 open it again."""
    async with app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press(*keys)
        await wait_until(pilot, lambda: head in shown(pilot.app))
        count = len(pilot.app.screen.listed)
        assert (count == ALL) == (f"{ALL} of {ALL}" in head)
        assert f"Patterns: {count} of {ALL}" in shown(pilot.app)


async def test_filters_hold_together() -> None:
    """What is listed fits every filter at once."""
    browser = app()
    async with browser.run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press("3", "m", "m", "m")
        await wait_until(pilot, lambda: "level 3, for RF" in shown(browser))
        listed = browser.screen.listed
        assert listed
        assert all(one.level == 3 and "RF" in one.limbs for one in listed)


@pytest.mark.parametrize("keys", [["enter"], ["down", "up", "enter"]])
async def test_enter_practises(keys: list[str]) -> None:
    """What is asked to be played is the pattern, on what the browser was opened for."""
    browser = app(at="single-paradiddle", port="Pad box")
    async with browser.run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press(*keys)
        asked = PlayRequest("single-paradiddle", setup=setup_on("Pad box"))
        await wait_until(pilot, lambda: browser.asked == [asked])
        assert isinstance(browser.screen, PatternsScreen)


async def test_q_ends_with_nothing() -> None:
    """Quitting chooses no pattern."""
    browser = app()
    async with browser.run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press("q")
        await wait_until(pilot, lambda: not browser.is_running)
    assert browser.asked == []


async def test_printing_asks_for_a_file_and_never_writes_over_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that is there is refused in words; another name is printed into."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "single-paradiddle.pdf").write_text("mine")
    PRINTED.clear()
    browser = app(at="single-paradiddle")
    async with browser.run_test(size=(80, 24), notifications=True) as pilot:
        await opened(pilot)
        await pilot.press("p", "enter")
        await wait_until(pilot, lambda: "There is such a file already" in shown(browser))
        await pilot.press("x", "enter")
        await wait_until(pilot, lambda: "written:" in shown(browser))
    (printed,) = PRINTED
    assert printed.patterns == ("single-paradiddle",)
    assert printed.output == Path("single-paradiddle.pdfx")


async def test_a_strangers_file_is_plain_text_and_a_broken_one_says_why() -> None:
    """Markup and escapes in titles show as they are; a faulty file cannot be played."""
    folder = library.pattern_folders()[0]
    folder.mkdir(parents=True)
    (folder / "aa.toml").write_text('title = "[b]loud[/b]\\u001b[2J"\nhands = "R L"\n')
    (folder / "ab.toml").write_text("title = \n")
    browser = app(at="ab")
    async with browser.run_test(size=(80, 24), notifications=True) as pilot:
        await opened(pilot, "cannot be read")
        assert "[b]loud[/b]<?>[2J" in shown(browser)
        assert "! -  ab" in shown(browser)
        await pilot.press("enter")
        await pilot.pause()
        assert browser.is_running


@pytest.mark.parametrize(("key", "head"), [("c", "from single-paradiddle"), ("n", "a new pattern")])
async def test_the_composer_opens_and_goes_back(key: str, head: str) -> None:
    """From the pattern under the cursor, or from nothing; escape leads back to the list."""
    browser = app(at="single-paradiddle")
    async with browser.run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press(key)
        await wait_until(pilot, lambda: f"Compose: {head}" in shown(browser))
        assert "Patterns: " not in shown(browser)
        await pilot.press("escape")
        await wait_until(pilot, lambda: "Patterns: " in shown(browser))
        assert "Compose: " not in shown(browser)


async def test_help_names_every_key() -> None:
    """The sheet tells the filters and what else keys do."""
    async with app().run_test(size=(80, 50)) as pilot:
        await opened(pilot)
        await pilot.press("question_mark")
        await wait_until(pilot, lambda: "Only those with a tag" in shown(pilot.app))
        assert "Print it for the music stand" in shown(pilot.app)
        assert "Only level 3" in shown(pilot.app)


async def test_a_thousand_patterns_are_listed_and_found() -> None:
    """The list holds all of them, and words find one among them."""
    folder = library.pattern_folders()[0]
    folder.mkdir(parents=True)
    for number in range(1000):
        (folder / f"drill-{number:03}.toml").write_text(
            f'title = "Drill {number}"\nhands = "R L"\n'
        )
    async with app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        assert f"Patterns: {1000 + ALL} of {1000 + ALL}" in shown(pilot.app)
        await pilot.press("slash", *"drill", "space", *"777")
        await wait_until(pilot, lambda: f"Patterns: 1 of {1000 + ALL}" in shown(pilot.app))


@pytest.mark.parametrize("size", SIZES)
async def test_how_the_browser_looks(
    size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The list as it is filtered, and a pattern with several voices below or beside it."""
    library.save_pattern("kept", STUDY)
    # Ten patterns, so that the picture stays as it is when patterns are added.
    every = library.catalogue()
    ten = [*(one for one in every if one.name == "kept"), *every[:9]]
    monkeypatch.setattr(library, "catalogue", lambda: ten)
    browser = app(at="kept", wanted=PatternFilter(("kept",)))
    async with browser.run_test(size=size) as pilot:
        await opened(pilot, "HF |")
        await wait_until(pilot, lambda: "? Help" in shown(browser))
        assert await drawn(pilot, "patterns", size) == kept("patterns", size)


@pytest.mark.parametrize("size", SIZES)
async def test_how_the_composer_looks(size: tuple[int, int]) -> None:
    """A form with a fault below its field; the drawing is the one before it."""
    library.save_pattern("kept", STUDY)
    browser = app(at="kept", compose_first=True)
    async with browser.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: "HF |" in shown(browser))
        await pilot.press("end", "x")
        await wait_until(pilot, lambda: "To fix" in shown(browser))
        await wait_until(pilot, lambda: "f1 Help" in shown(browser))
        assert await drawn(pilot, "composer", size) == kept("composer", size)


async def test_escape_shows_all_and_then_goes_back() -> None:
    """What was looked for comes off first; with nothing to take off, escape leaves as q does."""
    async with app().run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await wait_until(pilot, lambda: "q Back" in shown(pilot.app))
        await pilot.press("4")
        await wait_until(pilot, lambda: "level 4" in shown(pilot.app))
        await pilot.press("escape")
        await wait_until(pilot, lambda: f"Patterns: {ALL} of {ALL}" in shown(pilot.app))
        await pilot.press("escape")
        await wait_until(pilot, lambda: not pilot.app.is_running)
