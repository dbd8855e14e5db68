"""A page on the screen: its parts as they come, how far it is, its questions and its acts."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import pytest
from opened import Opened
from sessions import saved
from shots import SIZES, drawn, kept
from stage import shown, wait_until

from trainer.actions.replay import ReplayRequest
from trainer.actions.requests import PlayRequest
from trainer.errors import BadInput
from trainer.screens.page_screen import PageScreen, screen_of_page
from trainer.screens.replay import ReplayScreen
from trainer.show.drawing import rate_scale
from trainer.show.ink import text_width, wrapped_text
from trainer.show.page import (
    ChooseQuestion,
    Page,
    PageAct,
    PagePart,
    TextQuestion,
    paragraphs,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from trainer.show.page import ReportProgress

PARTS = (
    PagePart("First [b]part[/b]", ("  in a few words", "  and a few more \x1b[31m"), "one"),
    PagePart("Second part", ("  with less to say",), "two"),
    PagePart("A row"),
    PagePart("Another row"),
)


def page_app(one: Page) -> Opened:
    """Return the app on a page."""
    return Opened(screen_of_page(one))


def page(
    *acts: PageAct,
    make: Callable[[ReportProgress], Iterable[PagePart]] = lambda _progress: PARTS,
    title: str = "A page of parts",
) -> Page:
    """Return a page with good defaults."""
    return Page(title, "What the page is for.", "trainer thing", make, acts)


def act(key: str, does: Callable[..., object], *asks: Callable[..., object]) -> PageAct:
    """Return an act of a key."""
    return PageAct(key, "Do it", "Do it now", does, asks)  # type: ignore[arg-type]


@pytest.mark.parametrize("size", SIZES)
async def test_what_a_page_looks_like(size: tuple[int, int]) -> None:
    """Title, parts with room below, rows close together, and the keys of the acts."""
    app = page_app(page(act("enter", lambda name: None), act("n", lambda name: None)))
    async with app.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: "Another row" in shown(app))
        assert await drawn(pilot, "page", size) == kept("page", size)


LONG = "Maximiliane Anna-Katharina von und zu Hohenstein-Waldburg ab"
WIDE = "深夜の太鼓練習 ゆっくりから速く 第一番"


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (200, 60)])
@pytest.mark.parametrize("count", [0, 1, 30])
async def test_names_of_any_length_and_width_are_shown_whole(
    size: tuple[int, int], count: int
) -> None:
    """No line of students is cut within a word or runs over the edge; what continues is set in."""
    parts = [
        PagePart(
            f"{name} {place}: last practised 1 Dec, 07:00, 8 minutes this week",
            (f"    {name}: clean at 63 BPM, aim 92 BPM, {WIDE}, until every word is there",),
            str(place),
        )
        for place in range(count)
        for name in (LONG, WIDE)
    ]
    app = page_app(page(make=lambda _: parts))
    async with app.run_test(size=size) as pilot:
        await wait_until(pilot, lambda: len(app.screen.query_one("#parts").options) == 2 * count)
        await pilot.pause()
        rows = shown(app).splitlines()
    assert max(map(text_width, rows)) <= size[0]
    said = " ".join(rows[2:-1]).split()
    written = " ".join(" ".join([one.heading, *one.lines]) for one in parts).split()
    seen = [word for word in said if word[0] not in "▁▂▃▄▅▆▇█"]
    assert set(seen) <= set(written)
    assert bool(seen) == bool(count)
    continued = [row for row in rows if row.lstrip().startswith(("BPM", "word", "there"))]
    assert all(row.startswith("          ") for row in continued)


@pytest.mark.parametrize("columns", [1, 2, 5, 20, 77])
@pytest.mark.parametrize("line", ["", "word", f"    {LONG} {WIDE}, n = 12   100%", WIDE])
def test_a_wrapped_line_loses_nothing(columns: int, line: str) -> None:
    """Every sign is still there, in lines that fit; a line that fits stays as it is."""
    lines = wrapped_text(line, columns)
    assert "".join("".join(lines).split()) == "".join(line.split())
    widest = max(map(text_width, lines))
    assert widest <= max(columns, 2 + columns // 2 if WIDE in line else 1 + columns // 2)
    if text_width(line) <= columns:
        assert lines == [line]


async def test_text_is_plain_and_the_help_names_keys_and_command() -> None:
    """Markup stands as it is written; F1 tells every act, and the command that prints the same."""
    app = page_app(page(act("n", lambda name: None)))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "First [b]part[/b]" in shown(app))
        assert "a few more <?>[31m" in shown(app)
        await pilot.press("f1")
        await wait_until(pilot, lambda: "trainer thing" in shown(app))
        assert "Do it now" in shown(app)
        assert "What the page is for." in shown(app)


async def test_an_act_hears_the_part_under_the_cursor_and_the_answers() -> None:
    """Questions come in turn; one can be left out, and escape leaves all undone."""
    done: list[tuple[str, ...]] = []
    asks = (
        lambda name: ChooseQuestion(f"Which of {name}?", (("a", "the first"), ("b", "the second"))),
        lambda name, which: None,
        lambda name, which: TextQuestion(
            "How often?", "3", lambda text: "" if text == "35" else "No."
        ),
    )
    app = page_app(page(act("n", lambda *words: done.append(words), *asks)))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Another row" in shown(app))
        await pilot.press("down", "n")
        await wait_until(pilot, lambda: "Which of two?" in shown(app))
        await pilot.press("escape")
        await wait_until(pilot, lambda: "Which of two?" not in shown(app))
        assert done == []
        await pilot.press("n")
        await wait_until(pilot, lambda: "Which of two?" in shown(app))
        await pilot.press("down", "enter")
        await wait_until(pilot, lambda: "How often?" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: "No." in shown(app))
        await pilot.press("5", "enter")
        await wait_until(pilot, lambda: done == [("two", "b", "35")])


async def test_an_act_plays_or_opens_another_page() -> None:
    """What is to be played is handed to the app; a page opens on top and q goes back."""
    other = page(title="The other page")
    acts = (act("enter", PlayRequest), act("o", lambda name: other))
    app = page_app(page(*acts))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Another row" in shown(app))
        await pilot.press("o")
        await wait_until(pilot, lambda: "The other page" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: "A page of parts" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: app.asked == [PlayRequest("one")])
        assert "A page of parts" in shown(app)


async def test_an_act_replays_a_session_above_the_page(tmp_path: Path) -> None:
    """The replay opens on top, and closing it shows the page again."""
    path = saved(tmp_path)
    replay = act("enter", lambda name: ReplayRequest(path.parent, str(path)))
    app = page_app(page(replay))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Another row" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: isinstance(app.screen, ReplayScreen))
        await pilot.press("q")
        await wait_until(pilot, lambda: "Another row" in shown(app))


async def test_what_cannot_be_done_is_said_where_it_was_asked() -> None:
    """A fault of an act is reported and the page stays; a fault of the page stands in its place."""

    def fails(*_: object) -> None:
        raise BadInput("this [b]cannot[/b] be done", fix="do another thing")

    app = page_app(page(act("n", fails)))
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await wait_until(pilot, lambda: "Another row" in shown(app))
        await pilot.press("n")
        await wait_until(pilot, lambda: "this [b]cannot[/b]" in shown(app))
        assert "Another row" in shown(app)
    app = page_app(page(make=fails))  # type: ignore[arg-type]
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "do another thing" in shown(app))


async def test_progress_is_reported_and_leaving_ends_the_work() -> None:
    """Parts appear while more is made; who leaves is not waited for, and the work hears of it."""
    ended = threading.Event()

    def make(progress: ReportProgress) -> Iterable[PagePart]:
        yield PagePart("at once")
        try:
            while True:
                progress("half way")
                ended.wait(0.01)
                yield PagePart("more")
        finally:
            ended.set()

    app = page_app(page(act("o", lambda name: page(make=make, title="Slow"))))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Another row" in shown(app))
        await pilot.press("o")
        await wait_until(pilot, lambda: "half way" in shown(app) and "at once" in shown(app))
        assert not ended.is_set()
        await pilot.press("q")
        await wait_until(pilot, lambda: "A page of parts" in shown(app))
        await wait_until(pilot, ended.is_set)
    assert app.failure is None


async def test_the_cursor_stays_when_a_page_is_made_again() -> None:
    """What an act changed is shown, and the cursor stands where it stood."""
    count = [0]

    def make(_progress: ReportProgress) -> Iterable[PagePart]:
        return [PagePart(f"row {row}, look {count[0]}", name=str(row)) for row in range(40)]

    def look(_name: str) -> str:
        count[0] += 1
        return "looked again"

    app = page_app(page(act("n", look), make=make))
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await wait_until(pilot, lambda: "row 0, look 0" in shown(app))
        await pilot.press("pagedown", "down")
        screen = app.screen
        assert isinstance(screen, PageScreen)
        before = screen.chosen
        await pilot.press("n")
        await wait_until(pilot, lambda: f"row {before}, look 1" in shown(app))
        assert screen.chosen == before
        await wait_until(pilot, lambda: "looked again" in shown(app))


def test_lines_become_parts() -> None:
    """An indented line belongs to the one above, an empty one ends a part."""
    lines = ["one", "  more", "two", "", "  three", "four"]
    assert list(paragraphs(lines)) == [
        PagePart("one", ("  more",)),
        PagePart("two"),
        PagePart("  three"),
        PagePart("four"),
    ]


def test_the_scale_stands_in_proportion() -> None:
    """Asked, ceiling and interval lie where their shares of the scale are; the width is kept."""
    line = rate_scale(8.0, 6.0, 7.0, 8.5, 64)
    assert len(line) == 64
    room = line.split()[1]
    places = [round(room.index(sign) / (len(room) - 1) * 10, 1) for sign in "├●┃┤"]
    assert places == pytest.approx([6.0, 7.0, 8.0, 8.5], abs=0.1)
    assert len(rate_scale(8.0, float("-inf"), 7.0, float("inf"), 64)) == 64


async def test_the_cursor_begins_where_something_can_be_done() -> None:
    """Enter on a page that has just come acts on the first part with a name, not on a heading."""
    done: list[str] = []
    parts = (
        PagePart("Which session"),
        PagePart("The first thing", ("  why",), "one"),
        PagePart("2", (), "two"),
    )
    app = page_app(page(act("enter", done.append), make=lambda _progress: parts))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "The first thing" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: done)
    assert done == ["one"]


async def test_the_chosen_part_is_seen_without_colours(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is underlined, and nothing else is."""
    monkeypatch.setenv("NO_COLOR", "1")
    app = page_app(page())
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Another row" in shown(app))
        await pilot.press("down")
        await pilot.pause()
        strips = app.screen._compositor.render_strips()
    lined = {
        part.text.strip()
        for strip in strips
        for part in strip
        if part.style and part.style.underline and part.text.strip()
    }
    assert lined == {"Second part", "with less to say"}
