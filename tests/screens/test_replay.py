"""The replay screen: time, parts, rows, cells in words, and the way to the summary."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest
from stage import pattern, shown, wait_until

from trainer.archive.session import Header, Session
from trainer.archive.summary import judged, summarise
from trainer.kit.hits import Strike
from trainer.kit.note_map import GENERAL_MIDI
from trainer.practice.course import Course, Pass
from trainer.screens.app import ReplayApp, make_replay_app

WRITTEN = pattern(bars=2, title="[b]Singles[/b]")
PASSES = tuple(Pass(index, 120.0, 1.0 + 4.0 * index) for index in range(3))


def session() -> Session:
    """Return three passes, every stroke 4 ms late, the third of each pass missed."""
    strikes = []
    for target in Course(WRITTEN, PASSES).targets():
        if target.note_index != 2:
            note = GENERAL_MIDI.note(target.note.voice)
            assert note is not None
            strikes.append(Strike(target.time_s + 0.004, note, 90))
    strikes.append(Strike(2.1, 77, 50))
    strikes.sort(key=lambda strike: strike.time_s)
    started = datetime(2026, 3, 1, 18, 30, tzinfo=UTC)
    return Session(Header(WRITTEN, started), passes=PASSES, strikes=tuple(strikes))


def replay(path: Path = Path("/tmp/one.jsonl")) -> ReplayApp:
    """Return the app on that session."""
    played = session()
    return make_replay_app(played, judged(played), summarise(played), path)


async def test_it_opens_on_the_whole_session() -> None:
    """The map is complete at once, and the title's brackets are text."""
    async with replay().run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(pilot.app))
        assert "[b]Singles[/b]" in shown(pilot.app)
        assert "0:12 of 0:12" in shown(pilot.app)
        assert "─3" in shown(pilot.app)


async def test_the_cell_under_the_cursor_is_told_in_words() -> None:
    """Counts, time and power of the cell, and where it is; arrows move on."""
    async with replay().run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "bar 1, beat 1" in shown(pilot.app))
        assert "3 due, 3 played" in shown(pilot.app)
        assert "4 ms late on average, spread 0 ms" in shown(pilot.app)
        assert "power 90" in shown(pilot.app)
        await pilot.press("right")
        await wait_until(pilot, lambda: "beat 1 + 1/4" in shown(pilot.app))


@pytest.mark.parametrize(
    ("keys", "expected"),
    [
        (["home"], "0:00 of 0:12"),
        (["home", "full_stop"], "0:02 of 0:12"),
        (["home", "full_stop", "comma"], "0:00 of 0:12"),
        (["home", "right_square_bracket"], "pass 2 of 3"),
        (["left_square_bracket"], "pass 2 of 3"),
        (["home", "end"], "0:12 of 0:12"),
        (["plus"], "×2"),
        (["minus"], "×0.5"),
        (["pagedown"], "bar 2 of 2"),
        (["l"], "right hand"),
        (["w"], "this pass alone"),
        (["w", "w"], "whole session so far"),
        (["v"], "Each cell begins with faults"),
        (["s"], "Saved: /tmp/one.jsonl"),
    ],
)
async def test_every_key_does_what_it_says(keys: list[str], expected: str) -> None:
    """Each key shows its effect on the screen."""
    async with replay().run_test(size=(100, 30), notifications=True) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(pilot.app))
        await pilot.press(*keys)
        await wait_until(pilot, lambda: expected in shown(pilot.app))


async def test_time_runs_and_stops() -> None:
    """Play starts over from the beginning when time has run out, and stops where it is."""
    app = replay()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("plus", "plus", "space")
        await wait_until(pilot, lambda: "playing" in shown(app))
        review = app.replay.review
        await wait_until(pilot, lambda: 1.5 < review.time_s < 12.0)
        await pilot.press("space")
        await wait_until(pilot, lambda: "stopped" in shown(app))


async def test_a_click_chooses_a_cell() -> None:
    """The mouse does what the arrows do."""
    app = replay()
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(app))
        await pilot.click("#map", offset=(13 + 4 * 4 + 1, 2))
        await wait_until(pilot, lambda: "high tom, bar 1, beat 2" in shown(app))


async def test_the_summary_goes_back_to_the_map() -> None:
    """Closing the summary returns to the map, closing the map ends the app."""
    app = replay()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("s")
        await wait_until(pilot, lambda: "Saved" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: "whole session" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)


def test_one_pass_alone_looks_as_it_did_live() -> None:
    """The board of one pass holds that pass's marks and no other's."""
    app = replay()
    review = app.replay.review
    review.whole = False
    review.move_to(6.9)
    assert review.row == 1
    assert {mark.pass_index for mark in review.board.marks.values()} == {1}
    assert review.board.marks[2].outcome == "missed"


async def test_the_map_is_saved_as_a_picture(tmp_path: Path) -> None:
    """The picture lies beside the session, is well-formed, and has a cell's words as its title."""
    app = replay(tmp_path / "one.jsonl")
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(app))
        await pilot.press("p")
        await wait_until(pilot, lambda: "Picture saved" in shown(app))
    root = ElementTree.parse(tmp_path / "one.svg").getroot()
    titles = [one.text or "" for one in root.iter("{http://www.w3.org/2000/svg}title")]
    assert titles[0] == "Hit map: [b]Singles[/b]"
    assert sum("3 due, 0 played, 3 missed" in title for title in titles) == 1
    assert len(titles) == 1 + len(WRITTEN.notes)


async def test_a_picture_that_cannot_be_saved_is_said(tmp_path: Path) -> None:
    """A folder that is gone is a sentence on the screen, and the replay goes on."""
    app = replay(tmp_path / "gone" / "one.jsonl")
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(app))
        await pilot.press("p")
        await wait_until(pilot, lambda: "cannot be saved" in shown(app))
