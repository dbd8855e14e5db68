"""Home: what it shows, and the command each key stands for."""

from __future__ import annotations

from dataclasses import replace

import pytest
from at_home import KNOWN, PATTERNS, SESSION
from shots import SIZES, compare
from stage import shown, wait_until

from trainer.screens.home import HomeApp, Known
from trainer.show.page import Page


async def test_home_shows_what_is_connected_and_what_was_played_last() -> None:
    """The input, the last session, and the patterns with the last one chosen; text is text."""
    app = HomeApp(lambda: KNOWN)
    async with app.run_test(size=(100, 30)) as pilot:
        await wait_until(pilot, lambda: "goes on from there" in shown(app))
        assert "playing on Pad box" in shown(app)
        assert "01 March 2026, 18:30" in shown(app)
        assert "Singles at 92 BPM, 10 min" in shown(app)
        assert "Climb [b]and[/b] back" in shown(app)
        assert "Broken" not in shown(app)
        assert app.home.chosen() == PATTERNS[1]


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        (["enter"], ["play", "singles", "--port", "Pad box"]),
        (["up", "enter"], ["play", "climb", "--port", "Pad box"]),
        (["g"], ["play", "singles", "--tempo", "92", "--port", "Pad box"]),
        (["c", "enter"], ["play", "singles", "--port", "keys"]),
        (["c", "c", "l"], ["ladder", "singles", "--port", "simulated"]),
        (["s"], ["patterns", "show", "singles"]),
        (["d"], ["demo", "singles"]),
        (["r"], ["replay"]),
        (["h"], ["history"]),
        (["b"], ["patterns", "browse", "--port", "Pad box"]),
        (["k"], ["kit"]),
        (
            ["slash", "c", "l", "i", "enter", "down", "enter"],
            ["play", "climb", "--port", "Pad box"],
        ),
        (["q"], None),
    ],
)
async def test_every_key_stands_for_a_command(keys: list[str], words: list[str] | None) -> None:
    """What home returns is what would have been typed."""
    app = HomeApp(lambda: KNOWN)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        await pilot.press(*keys)
        await wait_until(pilot, lambda: not app.is_running)
    assert app.return_value == words


async def test_a_kit_that_is_plugged_in_is_offered_with_its_key() -> None:
    """A kit that comes while something else was chosen is told, and one key plays on it."""
    app = HomeApp(lambda: Known(("Pad box",), PATTERNS), "simulated")
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "a simulated player" in shown(app))
        app.found(Known(("Pad box", "Stage Kit"), PATTERNS))
        await wait_until(pilot, lambda: bool(app._notifications))
        (told,) = [one.message for one in app._notifications]
        assert told == "Stage Kit is connected: c plays on it."
        await pilot.press("c")
        await wait_until(pilot, lambda: "playing on Stage Kit" in shown(app))


async def test_what_is_there_at_first_is_no_news() -> None:
    """Home begins without an offer, whatever is connected."""
    app = HomeApp(lambda: KNOWN)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        app.found(KNOWN)
        assert not app._notifications


PAGES = {
    "t": "routine",
    "a": "advice",
    "m": "goal",
    "v": "compare",
    "e": "explain",
    "f": "assess",
    "p": "sheet",
    "o": "ports",
    "i": "timing",
}


@pytest.mark.parametrize("key", PAGES)
async def test_a_key_opens_the_page_of_a_command(key: str) -> None:
    """The page knows what is played on; q is home again, and the key stands in the menu."""
    app = HomeApp(lambda: KNOWN, page_of=a_page)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        assert f" {key} " in shown(app)
        await pilot.press(key)
        await wait_until(pilot, lambda: f"the page of {PAGES[key]} on Pad box" in shown(app))
        assert app.opened == PAGES[key]
        await pilot.press("q")
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        assert app.opened == ""


@pytest.mark.parametrize("size", SIZES)
async def test_how_home_looks(size: tuple[int, int]) -> None:
    """Patterns, what is played on, what was played last, and every key."""
    app = HomeApp(lambda: KNOWN)
    async with app.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: "goes on from there" in shown(app))
        await compare(pilot, "home", size)


async def test_files_are_read_again_only_after_a_page() -> None:
    """A look at the inputs alone is cheap; a page may have written a pattern."""
    looks: list[str] = []

    def all_of_it() -> Known:
        looks.append("all")
        return KNOWN

    app = HomeApp(all_of_it, ports=lambda: ("New box",), page_of=a_page)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        app.look()
        await wait_until(pilot, lambda: "playing on New box" in shown(app))
        assert looks == ["all"]
        await pilot.press("m")
        await wait_until(pilot, lambda: "the page of goal" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: looks == ["all", "all"])


async def test_home_comes_back_to_the_page_that_was_left() -> None:
    """After a command that a page ran, the page is open again."""
    app = HomeApp(lambda: KNOWN, page_of=a_page, opens="goal")
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "the page of goal" in shown(app))


async def test_the_menu_can_be_clicked() -> None:
    """A click on a line of the menu does what its key does."""
    app = HomeApp(lambda: KNOWN, page_of=a_page)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "t Routine" in shown(app))
        await pilot.click("#menu", offset=(3, 2))
        await wait_until(pilot, lambda: "the page of goal" in shown(app))


def a_page(name: str, port: str) -> Page:
    """Return an empty page that says what it was made for."""
    return Page(f"the page of {name} on {port}", "", f"trainer {name}", lambda _progress: ())


async def test_a_kit_that_is_plugged_in_later_is_found() -> None:
    """A MIDI input takes over from the computer keys, which nobody chose."""
    app = HomeApp(lambda: Known((), PATTERNS))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "the computer keys" in shown(app))
        assert "nothing played yet" in shown(app)
        app.found(KNOWN)
        await pilot.press("g")
        await wait_until(pilot, lambda: not app.is_running)
    assert app.return_value == ["play", "singles", "--tempo", "92", "--port", "Pad box"]


async def test_what_holds_no_stroke_is_nothing_to_go_on_from() -> None:
    """An empty session and one that still runs stand behind the last one that was played."""
    later = (replace(SESSION, strikes=0, seconds=0.0), replace(SESSION, finished=False))
    app = HomeApp(lambda: replace(KNOWN, sessions=(SESSION, *later)))
    async with app.run_test(size=(100, 30)) as pilot:
        await wait_until(pilot, lambda: "Singles at 92 BPM, 10 min" in shown(app))
        app.found(replace(KNOWN, sessions=later))
        await wait_until(pilot, lambda: "nothing played yet" in shown(app))
