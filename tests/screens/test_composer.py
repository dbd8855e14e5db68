"""The composer: typing and choosing, faults where they are, trying, saving, practising."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from opened import Opened
from stage import shown, wait_until

from trainer.actions.requests import PlayRequest
from trainer.file_system import user_folder
from trainer.pattern import library
from trainer.screens.composer import ComposerScreen
from trainer.screens.patterns import PatternsScreen

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from textual.pilot import Pilot


def app(name: str = "single-paradiddle") -> Opened:
    """Return the app with the composer open on a pattern."""
    return Opened(PatternsScreen(name, compose_first=True))


async def composing(pilot: Pilot[object]) -> ComposerScreen:
    """Return the composer once it has drawn its pattern."""
    await wait_until(pilot, lambda: isinstance(pilot.app.screen, ComposerScreen))
    screen = pilot.app.screen
    assert isinstance(screen, ComposerScreen)
    await wait_until(pilot, lambda: screen.key == "sticking")
    return screen


async def typed(pilot: Pilot[object], text: str) -> None:
    """Put a text into the field that is typed in, in place of what stood there."""
    await pilot.press("end", "ctrl+u", *("space" if c == " " else c for c in text))


async def test_it_opens_with_what_the_file_says() -> None:
    """Fields hold the file's own words and the bar is drawn beside them."""
    async with app().run_test(size=(80, 24)) as pilot:
        await composing(pilot)
        await wait_until(pilot, lambda: "RLRRLRLLRLRRLRLL" in shown(pilot.app))
        assert ">RLRR >LRLL" in shown(pilot.app)


async def test_the_bar_is_drawn_as_one_types() -> None:
    """A typed sticking shows in the tab without any other key."""
    async with app().run_test(size=(80, 24)) as pilot:
        await composing(pilot)
        await typed(pilot, "RRLL")
        await wait_until(pilot, lambda: "RRLLRRLLRRLLRRLL" in shown(pilot.app))
        assert "(not saved)" in shown(pilot.app)


async def test_a_fault_stands_under_its_field_and_the_drawing_stays() -> None:
    """What is wrong is said in plain words where it is; the last bar is still there."""
    async with app().run_test(size=(120, 40)) as pilot:
        screen = await composing(pilot)
        await wait_until(pilot, lambda: screen.pattern)
        await typed(pilot, "RLX")
        await wait_until(pilot, lambda: "!sticking" in shown(pilot.app))
        assert "To fix: 1, at the sign !" in shown(pilot.app)
        assert "SN |" in shown(pilot.app)
        lines = shown(pilot.app).splitlines()
        row = next(at for at, line in enumerate(lines) if "!sticking" in line)
        assert "X" in lines[row + 1]


async def test_enter_chooses_from_a_list() -> None:
    """The choice goes into the field and is drawn; the last one empties the field."""
    async with app().run_test(size=(80, 24)) as pilot:
        screen = await composing(pilot)
        await pilot.press("down", "enter")
        await wait_until(pilot, lambda: "value: a note value" in shown(pilot.app))
        await pilot.press("home", "enter")
        await wait_until(pilot, lambda: screen.draft.fields["value"] == "4 8t 16q 16s")
        await wait_until(pilot, lambda: "4 8t 16q 16s" in shown(pilot.app))
        assert pilot.app.screen is screen
        await pilot.press("enter", "end", "enter")
        await wait_until(pilot, lambda: screen.draft.fields["value"] == "")
        assert "4 8t 16q 16s" not in shown(pilot.app)


async def test_up_and_down_go_from_field_to_field() -> None:
    """The field that is typed in is named below, with what it says."""
    async with app().run_test(size=(80, 24)) as pilot:
        screen = await composing(pilot)
        await pilot.press("down", "down")
        assert screen.key == "path"
        await wait_until(pilot, lambda: "path: the drums" in shown(pilot.app))
        await pilot.press("up")
        assert screen.key == "value"


async def test_trying_shows_in_words_what_came_of_it() -> None:
    """The simulated player's run is judged at once, and closing it leads back."""
    async with app().run_test(size=(80, 24)) as pilot:
        screen = await composing(pilot)
        await pilot.press("ctrl+t")
        await wait_until(pilot, lambda: "Tried by the simulated player" in shown(pilot.app))
        assert "strokes: " in shown(pilot.app)
        await pilot.press("q")
        await wait_until(pilot, lambda: pilot.app.screen is screen)


async def test_nothing_wrong_is_tried_saved_or_played() -> None:
    """With a fault in the form the keys only say so."""
    async with app().run_test(size=(80, 24), notifications=True) as pilot:
        screen = await composing(pilot)
        await typed(pilot, "RLX")
        for key in ("ctrl+t", "ctrl+s", "ctrl+g"):
            await pilot.press(key)
            await wait_until(pilot, lambda: "Fix what is wrong first" in shown(pilot.app))
            assert pilot.app.screen is screen


async def test_saving_asks_for_a_name_and_before_it_writes_over_one() -> None:
    """A new name is saved at once, a bad one refused, a taken one only written over when asked."""
    library.save_pattern("mine", 'hands = "R L"\n')
    async with app().run_test(size=(80, 24), notifications=True) as pilot:
        await composing(pilot)
        await typed(pilot, "RRLL")
        await pilot.press("ctrl+s", "ctrl+u", *"a.b", "enter")
        await wait_until(pilot, lambda: "cannot be a name" in shown(pilot.app))
        await pilot.press("end", "ctrl+u", *"mine", "enter")
        await wait_until(pilot, lambda: "You have a pattern mine already" in shown(pilot.app))
        assert len(library.load_pattern("mine").title) == len("mine")
        await pilot.press("down", "enter")
        await wait_until(pilot, lambda: "Saved as mine" in shown(pilot.app))
    assert library.load_pattern("mine").title == "Single paradiddle"
    assert library.load_pattern("mine").notes[1].limb == "RH"


async def test_practising_saves_first_what_was_changed() -> None:
    """An unchanged pattern is played under its name; a changed one asks for a name of its own."""
    browser = app()
    async with browser.run_test(size=(80, 24)) as pilot:
        await composing(pilot)
        await pilot.press("ctrl+g")
        await wait_until(pilot, lambda: browser.asked == [PlayRequest("single-paradiddle")])

    browser = app()
    async with browser.run_test(size=(80, 24)) as pilot:
        await composing(pilot)
        await typed(pilot, "RRLL")
        await pilot.press("ctrl+g")
        await wait_until(pilot, lambda: "my-single-paradiddle" in shown(browser))
        await pilot.press("enter")
        await wait_until(pilot, lambda: browser.asked == [PlayRequest("my-single-paradiddle")])
    assert [note.limb for note in library.load_pattern("my-single-paradiddle").notes[:4]] == [
        *("RH", "RH", "LH", "LH")
    ]


@pytest.mark.parametrize(("keys", "left"), [(["enter"], False), (["down", "enter"], True)])
async def test_leaving_asks_where_something_would_be_lost(keys: list[str], left: bool) -> None:
    """Keep composing loses nothing; leave goes back to the list."""
    async with app().run_test(size=(80, 24)) as pilot:
        screen = await composing(pilot)
        await typed(pilot, "RRLL")
        await pilot.press("escape")
        await wait_until(pilot, lambda: "Leave without saving?" in shown(pilot.app))
        await pilot.press(*keys)
        await wait_until(pilot, lambda: "Leave without saving?" not in shown(pilot.app))
        await wait_until(pilot, lambda: ("Patterns: " in shown(pilot.app)) == left)
        assert (pilot.app.screen is screen) == (not left)
        assert screen.draft.fields["sticking"] == "RRLL"


async def test_a_new_pattern_says_what_it_needs() -> None:
    """An empty form is not wrong at a field; one sticking is enough for a pattern."""
    async with app("").run_test(size=(80, 24)) as pilot:
        await composing(pilot)
        await wait_until(pilot, lambda: "no stroke is written" in shown(pilot.app))
        assert "at the sign !" not in shown(pilot.app)
        await typed(pilot, "RL")
        await wait_until(pilot, lambda: "RLRLRLRLRLRLRLRL" in shown(pilot.app))
        assert "no stroke is written" not in shown(pilot.app)


async def test_the_drawing_turns_its_pages() -> None:
    """Page keys turn the drawing while a field is typed in."""
    async with app("climb-odd-numbers").run_test(size=(80, 24)) as pilot:
        screen = await composing(pilot)
        await wait_until(pilot, lambda: screen.query_one("#drawn").max_scroll_y > 0)
        await pilot.press("pagedown")
        await wait_until(pilot, lambda: screen.query_one("#drawn").scroll_y > 0)
        await pilot.press("pageup")
        await wait_until(pilot, lambda: screen.query_one("#drawn").scroll_y == 0)
        assert screen.key == "sticking"


async def test_help_names_every_key() -> None:
    """F1 tells the keys; a question mark is a letter here."""
    async with app().run_test(size=(80, 50)) as pilot:
        screen = await composing(pilot)
        before = dict(screen.draft.fields)
        await pilot.press("f1")
        await wait_until(pilot, lambda: "Let the simulated player try it" in shown(pilot.app))
        sheet = shown(pilot.app)
        assert all(f" {key} " in sheet for key in ("enter", "ctrl+t", "ctrl+s", "ctrl+g"))
        await pilot.press("f1", "question_mark")
        await wait_until(pilot, lambda: screen.draft.fields != before)
        assert screen.draft.fields["sticking"].endswith("?")


async def _left_by(end: Callable[[Pilot[object]], object]) -> list[Path]:
    """Type into the form, end the program in some way, and return what is in the folder then."""
    one = app()
    async with one.run_test(size=(80, 24)) as pilot:
        await composing(pilot)
        await typed(pilot, "RRLL")
        await wait_until(pilot, lambda: "(not saved)" in shown(pilot.app))
        end(pilot)
        await wait_until(pilot, lambda: not one.is_running)
    folder = user_folder("patterns")
    kept = sorted(folder.iterdir()) if folder.is_dir() else []
    assert [f"kept as the pattern {path.stem}" in " ".join(one.remarks) for path in kept] == [
        True for _ in kept
    ]
    return kept


async def test_a_closed_window_loses_nothing_that_was_typed() -> None:
    """The form is kept as a pattern of its own, and the program says its name at the end."""
    (path,) = await _left_by(lambda pilot: pilot.app.exit(return_code=129))
    assert path.name == "unsaved.toml"
    assert 'sticking = "RRLL"' in path.read_text()


@pytest.mark.faulty
async def test_a_fault_of_the_screen_loses_nothing_that_was_typed() -> None:
    """The same where the program ends by a fault of its own."""

    def planted(*_: object) -> None:
        raise OverflowError("planted")

    with pytest.raises(OverflowError):
        await _left_by(lambda pilot: pilot.app.call_later(planted))
    (path,) = user_folder("patterns").iterdir()
    assert 'sticking = "RRLL"' in path.read_text()
