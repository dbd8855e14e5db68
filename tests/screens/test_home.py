"""Home: what it shows, and what each key plays or opens."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from at_home import KNOWN, PATTERNS, SESSION, AtHome
from shots import SIZES, drawn, kept
from stage import shown, wait_until
from textual.widgets import Static

from trainer.actions.history import Known, changed_patterns
from trainer.actions.requests import DemoRequest, LadderRequest, PlayRequest, setup_on
from trainer.actions.ways import first_pattern
from trainer.archive.history import PractisedPattern
from trainer.pattern.library import catalogue, load_pattern
from trainer.screens.before_playing import BeforePlayingScreen
from trainer.screens.home import HomeScreen
from trainer.show.home_words import pattern_row, shortened, side_lines
from trainer.show.page import Page

if TYPE_CHECKING:
    from trainer.actions.requests import Request


async def test_home_shows_what_is_connected_and_what_was_played_last() -> None:
    """The input, the last session, and the patterns with the last one chosen; text is text."""
    app = AtHome()
    async with app.run_test(size=(100, 30)) as pilot:
        await wait_until(pilot, lambda: "g continues it at 92 BPM" in shown(app))
        assert "playing on Pad box" in shown(app)
        assert "last 1 Mar, 18:30" in shown(app)
        assert "Singles, 10 min" in shown(app)
        assert "Leapfrog [b]up[/b]" in shown(app)
        assert "Broken" not in shown(app)
        assert app.home.chosen() == PATTERNS[1]


ON_THE_BOX = setup_on("Pad box")


@pytest.mark.parametrize(
    ("keys", "request_"),
    [
        (["enter"], PlayRequest("singles", setup=ON_THE_BOX)),
        (["up", "enter"], PlayRequest("leapfrog", setup=ON_THE_BOX)),
        (["g"], PlayRequest("singles", 92.0, setup=ON_THE_BOX)),
        (["c", "enter"], PlayRequest("singles", setup=setup_on("keys"))),
        (["c", "c", "l"], LadderRequest("singles", setup=setup_on("simulated"))),
        (["d"], DemoRequest("singles")),
        (
            ["slash", "l", "e", "a", "enter", "down", "enter"],
            PlayRequest("leapfrog", setup=ON_THE_BOX),
        ),
    ],
)
async def test_keys_play_what_is_under_the_cursor(keys: list[str], request_: Request) -> None:
    """Each key asks the app for what it stands for, on what is chosen to be played on."""
    app = AtHome()
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        await pilot.press(*keys)
        if not isinstance(request_, DemoRequest) and keys != ["g"]:
            await wait_until(pilot, lambda: isinstance(app.screen, BeforePlayingScreen))
            await pilot.press("enter")
        await wait_until(pilot, lambda: app.asked)
    assert app.asked == [request_]


@pytest.mark.parametrize(
    ("key", "name"), [("r", "replay"), ("h", "history"), ("b", "patterns"), ("k", "kit")]
)
async def test_keys_open_the_other_screens(key: str, name: str) -> None:
    """They are told what is played on."""
    app = AtHome()
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        await pilot.press(key)
        await wait_until(pilot, lambda: app.opened)
        assert app.opened == [(name, "Pad box")]
        await pilot.press("s")
        await wait_until(pilot, lambda: len(app.opened) > 1)
        assert app.opened[1] == ("tab", "singles")
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)


async def test_a_kit_that_is_plugged_in_is_offered_with_its_key() -> None:
    """A kit that comes while something else was chosen is reported, and one key plays on it."""
    app = AtHome(Known(("Pad box",), PATTERNS), "simulated")
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "a simulated player" in shown(app))
        app.around.known = Known(("Pad box", "Stage Kit"), PATTERNS)
        app.home.look()
        await wait_until(pilot, lambda: bool(app._notifications))
        (reported,) = [one.message for one in app._notifications]
        assert reported == "Stage Kit is connected: c plays on it."
        await pilot.press("c")
        await wait_until(pilot, lambda: "playing on Stage Kit" in shown(app))


async def test_keys_that_are_set_come_before_a_kit() -> None:
    """The setting decides what is played on first, c still plays on the kit."""
    app = AtHome(replace(KNOWN, usual="keys"))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on the computer keys" in shown(app))
        app.home.found(replace(KNOWN, usual="keys"))
        assert app.home.source == "keys"
        await pilot.press("c", "c")
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        app.home.found(replace(KNOWN, usual="keys"))
        assert app.home.source == "Pad box"


async def test_what_is_there_at_first_is_no_news() -> None:
    """Home begins without an offer, whatever is connected."""
    app = AtHome()
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        app.home.found(KNOWN)
        assert not app._notifications


PAGES = {
    "t": "routine",
    "w": "way",
    "a": "advice",
    "m": "goal",
    "v": "compare",
    "e": "explain",
    "f": "assess",
    "p": "sheet",
    "u": "student",
    "o": "ports",
    "i": "timing",
}


@pytest.mark.parametrize("key", PAGES)
async def test_a_key_opens_the_page_of_a_command(key: str) -> None:
    """The page knows what is played on; q is home again, and the key stands in the menu."""
    app = AtHome(page_of=a_page)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        assert f" {key} " in shown(app)
        await pilot.press(key)
        await wait_until(pilot, lambda: f"the page of {PAGES[key]} on Pad box" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))


@pytest.mark.parametrize("size", SIZES)
async def test_how_home_looks(size: tuple[int, int]) -> None:
    """Patterns, what is played on, what was played last, and every key."""
    app = AtHome()
    async with app.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: "g continues it at" in shown(app))
        assert await drawn(pilot, "home", size) == kept("home", size)


async def test_files_are_read_again_only_after_another_screen() -> None:
    """A look at the inputs alone is cheap; another screen may have written a pattern."""
    app = AtHome(page_of=a_page)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        app.around.known = replace(KNOWN, ports=("New box",))
        app.home.look()
        await wait_until(pilot, lambda: "playing on New box" in shown(app))
        assert app.around.looks == 1
        await pilot.press("m")
        await wait_until(pilot, lambda: "the page of goal" in shown(app))
        await wait_until(pilot, lambda: app.around.closed)
        await pilot.press("q")
        await wait_until(pilot, lambda: app.around.looks == 2)


async def test_the_menu_can_be_clicked() -> None:
    """A click on a line of the menu does what its key does."""
    app = AtHome(page_of=a_page)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "t Routine" in shown(app))
        menu = str(app.home.query_one("#menu", Static).content).splitlines()
        (row,) = [at for at, line in enumerate(menu) if line.startswith("m Goals")]
        await pilot.click("#menu", offset=(3, row))
        await wait_until(pilot, lambda: "the page of goal" in shown(app))
        assert app.opened == [("goal", "Pad box")]


def a_page(name: str, port: str) -> Page:
    """Return an empty page that says what it was made for."""
    return Page(f"the page of {name} on {port}", "", f"trainer {name}", lambda _progress: ())


async def test_a_kit_that_is_plugged_in_later_is_found() -> None:
    """A MIDI input takes over from the computer keys, which nobody chose."""
    app = AtHome(Known((), PATTERNS))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "the computer keys" in shown(app))
        assert "nothing played yet" in shown(app)
        app.around.known = KNOWN
        app.home.found(KNOWN)
        await pilot.press("g")
        await wait_until(pilot, lambda: app.asked)
    assert app.asked == [PlayRequest("singles", 92.0, setup=ON_THE_BOX)]


async def test_what_holds_no_stroke_is_nothing_to_go_on_from() -> None:
    """An empty session and one that still runs stand behind the last one that was played."""
    later = (replace(SESSION, strikes=0, seconds=0.0), replace(SESSION, finished=False))
    app = AtHome(replace(KNOWN, sessions=(SESSION, *later)))
    async with app.run_test(size=(100, 30)) as pilot:
        await wait_until(pilot, lambda: "Singles, 10 min" in shown(app))
        app.home.found(replace(KNOWN, sessions=later))
        await wait_until(pilot, lambda: "nothing played yet" in shown(app))
        assert "Singles, 10 min" not in shown(app)


async def test_rows_show_level_clean_tempo_and_day() -> None:
    """What was practised last is at the top, then the others by title; each with its numbers."""
    played = replace(SESSION, clean_tempo=88.0, pattern="leapfrog", started=SESSION.started)
    app = AtHome(Known(("Pad box",), PATTERNS, (SESSION, played), 90.0))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "g continues it at" in shown(app))
        rows = [line[:44].split() for line in shown(app).splitlines()[3:5]]
        assert rows == [
            ["Leapfrog", "[b]up[/b]", "88", "1", "Mar"],
            ["Singles", "1", "Mar"],
        ]
        assert "this week 0 of 90 min" in shown(app)


def test_beside_the_list_no_word_is_cut() -> None:
    """In any window the lines hold whole words, and end with a sign where some are left out."""
    chosen = replace(PATTERNS[0], title="Leapfrog", about="Hear the next value before you play it.")
    known = Known(("Pad box",), (chosen,), (SESSION,), 90.0)
    today = SESSION.started.date()
    whole = side_lines(known, "Pad box", chosen, today, (200, 60))
    words = {word for line in whole for text, _ in line for word in text.split()}
    for columns, rows in itertools.product(range(12, 60, 3), range(1, 24)):
        lines = side_lines(known, "Pad box", chosen, today, (columns, rows))
        said = [text for line in lines for text, _ in line]
        assert len(lines) <= rows
        assert max(map(len, said)) <= columns
        assert {word for text in said for word in text.split()} <= {*words, "…"}


def test_texts_end_at_a_word() -> None:
    """A word is cut only where it alone is wider than the room."""
    text = "Fives and threes, left lead"
    for columns in range(8, 40):
        short = shortened(text, columns)
        assert len(short) <= columns
        assert short == text or short.endswith(" …")
        assert set(short.split()) <= {*text.split(), "…"}
    assert shortened("Paradiddles", 6) == "Parad…"


def test_titles_that_begin_alike_differ_in_their_rows() -> None:
    """In every width each shipped title is whole, its words uncut, and the row fits."""
    entries = [one for one in catalogue() if not one.own]
    today = SESSION.started.date()
    played = PractisedPattern(SESSION.started, 132.5)
    for columns, practised in itertools.product((24, 30, 42, 46, 70, 110), (None, played)):
        rows = {one.name: pattern_row(one, practised, today, columns) for one in entries}
        for one in entries:
            lines = rows[one.name].split("\n")
            assert max(map(len, lines)) <= columns
            assert set(one.title.split()) <= set(rows[one.name].split())
            assert (practised is None) or "132.5" in lines[0]
        assert len({row.split("\n")[0] for row in rows.values()}) > 0.7 * len(rows)


async def test_a_newcomer_reads_where_to_begin() -> None:
    """The line at the top names the first step, the cursor is on it, and enter opens it."""
    app = AtHome(Known((), PATTERNS, first="singles"))
    async with app.run_test(size=(80, 24)) as pilot:
        first = "Start here: enter plays Singles."
        await wait_until(pilot, lambda: first in shown(app))
        await pilot.press("up")
        await wait_until(pilot, lambda: first not in shown(app))
        await pilot.press("down", "enter")
        await wait_until(pilot, lambda: isinstance(app.screen, BeforePlayingScreen))
        assert "Singles: before you play" in shown(app)


def test_the_first_step_can_be_played() -> None:
    """A newcomer begins with a shipped pattern, also where the own ways come first."""
    assert load_pattern(first_pattern()).strokes > 0


async def test_a_word_that_no_pattern_has_is_said() -> None:
    """The list says which word it looked for, and esc shows all again."""
    app = AtHome()
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "playing on Pad box" in shown(app))
        await pilot.press("slash", "z", "q", "enter")
        await wait_until(pilot, lambda: 'no pattern with "zq"; esc shows all' in shown(app))
        await pilot.press("enter", "d", "s", "l")
        assert not app.asked
        assert not app.opened
        assert isinstance(app.screen, HomeScreen)
        await pilot.press("escape")
        await wait_until(pilot, lambda: "Singles" in shown(app))


def test_what_was_practised_with_changes_has_a_row() -> None:
    """A pattern with another lead or value is a row of its own, with its numbers; a loop is not."""
    plain = replace(PATTERNS[1], level=2)
    names = {
        "singles lead=left": "Singles, left lead",
        "singles value=16": "Singles, in sixteenths",
        "singles bars=1-2": "Singles, bars 1 to 2",
        "elsewhere lead=left": "Elsewhere, left lead",
    }
    sessions = [replace(SESSION, pattern=one, title=title) for one, title in names.items()]
    sessions += [replace(SESSION, pattern="singles shift=1", strikes=0)]
    found = changed_patterns([plain], sessions)
    assert [(one.name, one.title, one.level) for one in found] == [
        ("singles lead=left", "Singles, left lead", 2),
        ("singles value=16", "Singles, in sixteenths", None),
    ]
    known = Known((), (plain, *found), (replace(sessions[0], clean_tempo=104.0),))
    row = pattern_row(found[0], known.practised()[found[0].name], SESSION.started.date(), 60)
    assert row.split() == ["2", "Singles,", "left", "lead", "104", "today"]
    assert known.can_open("singles bars=1-2")
    assert not known.can_open("elsewhere lead=left")
