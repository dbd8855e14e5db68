"""The replay screen: time, parts, rows, cells in words, and the way to the summary."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest
from patience import LIMIT_S
from shelf import LADDER, PASSES, WRITTEN, Shelf, ladder, replay, replay_of, session
from shots import SIZES, drawn, kept
from stage import shown, wait_until

from trainer.actions.replay import ReplayStep
from trainer.archive.summary import judge_session
from trainer.errors import BadInput
from trainer.screens.replay import ReplayScreen
from trainer.show.review import ONE_PASS, ONE_RUNG, Review

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.pilot import Pilot


async def opened(pilot: Pilot[None]) -> Review:
    """Wait for the map; return its review."""
    await wait_until(pilot, lambda: "whole session" in shown(pilot.app))
    screen = pilot.app.screen
    assert isinstance(screen, ReplayScreen)
    return screen.review


async def test_it_opens_on_the_whole_session() -> None:
    """The map is complete at once, and the title's brackets are text."""
    async with replay().run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(pilot.app))
        assert "[b]Singles[/b]" in shown(pilot.app)
        assert "0:12 of 0:12" in shown(pilot.app)
        assert "─3" in shown(pilot.app)


async def test_the_cell_under_the_cursor_is_reported_in_words() -> None:
    """Counts, time and power of the cell, and where it is; arrows move on."""
    async with replay().run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "bar 1, beat 1" in shown(pilot.app))
        assert "snare RH accent   0 early, 3 on time, 0 late" in shown(pilot.app)
        assert "3 due, 3 played" in shown(pilot.app)
        assert "4 ms late on average, spread 0 ms" in shown(pilot.app)
        assert "power 91, spread 1" in shown(pilot.app)
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
        (["w"], "pass 3 of 3 alone"),
        (["w", "w"], "whole session"),
        (["v"], "Each cell begins with faults"),
        (["s"], "Saved: /tmp/one.jsonl"),
    ],
)
async def test_every_key_does_what_it_says(keys: list[str], expected: str) -> None:
    """The last key shows its effect on the screen, which was not there before it."""
    async with replay().run_test(size=(100, 30), notifications=True) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(pilot.app))
        await pilot.press(*keys[:-1])
        await wait_until(pilot, lambda: expected not in shown(pilot.app))
        before = shown(pilot.app)
        await pilot.press(keys[-1])
        await wait_until(pilot, lambda: expected in shown(pilot.app))
        assert shown(pilot.app) != before


async def test_time_runs_and_stops() -> None:
    """Play starts over from the beginning when time has run out, and stops where it is."""
    app = replay()
    async with app.run_test(size=(80, 24)) as pilot:
        review = await opened(pilot)
        await pilot.press("plus", "plus", "space")
        await wait_until(pilot, lambda: "playing" in shown(app))
        await wait_until(pilot, lambda: 1.5 < review.time_s < 12.0)
        await pilot.press("space")
        await wait_until(pilot, lambda: "stopped" in shown(app))
        stopped_s = review.time_s
        await pilot.pause(0.2)
        assert review.time_s == stopped_s


async def test_a_click_chooses_a_cell() -> None:
    """The mouse does what the arrows do."""
    app = replay()
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "whole session" in shown(app))
        assert "ride, bar 1, beat 2" not in shown(app)
        await pilot.click("#map", offset=(13 + 4 * 4 + 1, 2))
        await wait_until(pilot, lambda: "ride, bar 1, beat 2" in shown(app))
        assert "snare, bar 1, beat 1" not in shown(app)


async def test_the_summary_goes_back_to_the_map() -> None:
    """Closing the summary returns to the map, closing the map ends the app."""
    app = replay()
    async with app.run_test(size=(80, 24)) as pilot:
        await opened(pilot)
        await pilot.press("s")
        await wait_until(pilot, lambda: "Saved" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: "whole session" in shown(app))
        assert app.is_running
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)
    assert app.fault is None


def test_one_pass_alone_looks_as_it_did_live() -> None:
    """The board of one pass holds that pass's marks and no other's."""
    review = Review(judge_session(session()))
    review.part = ONE_PASS
    review.move_to(6.9)
    assert review.row == 1
    assert {mark.pass_index for mark in review.board.marks.values()} == {1}
    assert review.board.marks[2].outcome == "missed"


async def test_the_parts_are_gone_through_with_one_key() -> None:
    """Whole session, one rung, one pass, and the session again; a step shows the next one whole."""
    async with replay(ladder()).run_test(size=(100, 30)) as pilot:
        await opened(pilot)
        for keys, expected, due in (
            (["w"], "rung 2 of 2 alone", "3 due"),
            (["left_square_bracket"], "rung 1 of 2 alone", "3 due"),
            (["left_square_bracket"], "rung 1 of 2 alone", "BPM   clean"),
            (["w"], "pass 1 of 6 alone", "1 due"),
            (["right_square_bracket"] * 3, "pass 4 of 6 alone", "rung 2: not clean"),
            (["w"], "whole session", "6 due"),
        ):
            await pilot.press(*keys)
            await wait_until(pilot, lambda e=expected: e in shown(pilot.app))  # type: ignore[misc]
            assert due in shown(pilot.app)


async def test_a_part_fills_up_while_time_runs() -> None:
    """From a whole pass, play goes back to its start and counts what is known so far."""
    async with replay().run_test(size=(100, 30)) as pilot:
        review = await opened(pilot)
        await pilot.press("w", "left_square_bracket", "minus", "minus", "space")
        await wait_until(pilot, lambda: "pass 2 of 3 alone, up to here" in shown(pilot.app))
        await pilot.press("space")
        assert int(review.here.counts.played.sum()) < len(WRITTEN.notes) - 1


async def test_a_key_jumps_from_fault_to_fault() -> None:
    """Time and cursor go to each missed stroke and each stray in turn, and back."""
    async with replay().run_test(size=(100, 30), notifications=True) as pilot:
        review = await opened(pilot)
        await pilot.press("home", "n")
        await wait_until(pilot, lambda: "snare, bar 1, beat 1 + 1/4" in shown(pilot.app))
        assert "1 due, 0 played, 1 missed" in shown(pilot.app)
        await pilot.press("n")
        await wait_until(pilot, lambda: "other, bar 1, beat 3 + 1/4" in shown(pilot.app))
        assert review.time_s == 2.1
        await pilot.press("n", "N", "N")
        await wait_until(pilot, lambda: "snare, bar 1, beat 1 + 1/4" in shown(pilot.app))
        await pilot.press("N")
        await wait_until(pilot, lambda: "No more that way" in shown(pilot.app))


async def test_a_click_on_time_jumps_there() -> None:
    """The middle of the line is the middle of the session, its first column the start."""
    async with replay().run_test(size=(96, 30)) as pilot:
        review = await opened(pilot)
        await pilot.click("#time", offset=(40, 0))
        await wait_until(pilot, lambda: "0:06 of 0:12" in shown(pilot.app))
        await pilot.click("#time", offset=(0, 0))
        await wait_until(pilot, lambda: "0:00 of 0:12" in shown(pilot.app))
        assert review.time_s == PASSES[0].start_s


async def test_who_leaves_while_it_is_opened_does_not_wait_for_the_rest() -> None:
    """After the step being done, nothing more is done."""
    shelf, go_on, done = Shelf(session()), threading.Event(), threading.Event()

    def hold(reported: Callable[[ReplayStep], object]) -> None:
        go_on.wait(LIMIT_S)
        try:
            reported(ReplayStep("measure", strokes=70))
        finally:
            done.set()

    shelf.hold = hold
    app = replay_of(shelf)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "judging 70 strokes" in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)
        go_on.set()
        await wait_until(pilot, done.is_set)
    assert app.fault is None


@pytest.mark.parametrize(
    ("late_ms", "expected"),
    [(-10.6, (3, 0, 0)), (-9.9, (0, 3, 0)), (9.5, (0, 3, 0)), (10.1, (0, 0, 3))],
)
def test_within_ten_milliseconds_is_on_time(late_ms: float, expected: tuple[int, ...]) -> None:
    """What is early, on time and late in words is what the signs on the grid say."""
    review = Review(judge_session(session(late_ms=late_ms)))
    assert review.here.sides([0]) == expected


def test_a_rung_counts_its_passes_and_no_other() -> None:
    """Three passes of the second rung: three strokes due on each note."""
    review = Review(judge_session(ladder()))
    review.choose(ONE_RUNG, 2)
    assert set(review.take.landed.row[review.here.which]) == {3, 4, 5}
    with pytest.raises(BadInput, match="there is no rung 3; choose 1 to 2"):
        review.choose(ONE_RUNG, 3)
    assert Review(judge_session(session())).parts == ("session", "pass")
    assert len(LADDER) == len(review.firsts(ONE_PASS))


async def test_the_screen_is_there_while_judging_goes_on() -> None:
    """What is being done stands on the screen, help and quit work; then the map comes."""
    shelf, go_on = Shelf(session()), threading.Event()
    shelf.hold = lambda reported: go_on.wait(LIMIT_S)
    async with replay_of(shelf).run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "judging 70 strokes" in shown(pilot.app))
        await pilot.press("question_mark")
        await wait_until(pilot, lambda: "being read or made ready" in shown(pilot.app))
        await pilot.press("escape")
        await wait_until(pilot, lambda: "being read or counted" not in shown(pilot.app))
        assert "judging 70 strokes" in shown(pilot.app)
        go_on.set()
        review = await opened(pilot)
        assert len(review.take.judged.hits) == len(session().strikes)


async def test_a_session_that_cannot_be_opened_ends_the_app_with_its_fault() -> None:
    """The command gets the fault and tells it as any other."""
    shelf = Shelf(session())
    shelf.fault = BadInput("the file is torn", fix="choose another")
    app = replay_of(shelf)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: app.fault)
    assert app.fault is shelf.fault
    assert app.return_code == 2


async def test_a_session_without_a_pass_has_its_summary() -> None:
    """There is no map to go through, and closing the summary ends the app."""
    app = replay(session(()))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "No pass was started." in shown(app))
        assert "whole session" not in shown(app)
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)
    assert app.fault is None


async def test_the_map_is_saved_as_a_picture(tmp_path: Path) -> None:
    """The picture lies beside the session, is well-formed, and has a cell's words as its title."""
    app = replay(path=tmp_path / "one.jsonl")
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await opened(pilot)
        await pilot.press("x")
        await wait_until(pilot, lambda: "Picture saved" in shown(app))
    root = ElementTree.parse(tmp_path / "one-map.svg").getroot()
    titles = [one.text or "" for one in root.iter("{http://www.w3.org/2000/svg}title")]
    assert titles[0] == "Hit map: [b]Singles[/b]"
    assert sum("3 due, 0 played, 3 missed" in title for title in titles) == 1
    assert len(titles) == 1 + len(WRITTEN.notes)


async def test_the_summary_is_saved_as_a_picture(tmp_path: Path) -> None:
    """The same words as on the screen, and a row for each limb."""
    app = replay(path=tmp_path / "one.jsonl")
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await opened(pilot)
        await pilot.press("s")
        await wait_until(pilot, lambda: "Saved:" in shown(app))
        await pilot.press("x")
        await wait_until(pilot, lambda: "Picture saved" in shown(app))
    root = ElementTree.parse(tmp_path / "one-summary.svg").getroot()
    texts = ["".join(one.itertext()) for one in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "[b]Singles[/b]: 3 passes at 120 BPM." in texts
    assert "left hand" in texts


async def test_a_picture_that_cannot_be_saved_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A place that no file can have is a sentence on the screen, and the replay goes on."""
    monkeypatch.chdir(tmp_path)  # a short path: the sentence breaks where the window ends
    Path("file").write_text("")
    app = replay(path=Path("file/one.jsonl"))
    async with app.run_test(size=(80, 24), notifications=True) as pilot:
        await opened(pilot)
        await pilot.press("x")
        await wait_until(pilot, lambda: "the file cannot be" in shown(app))
        assert app.is_running
    assert app.fault is None


@pytest.mark.parametrize("size", SIZES)
async def test_how_the_map_and_the_summary_look(size: tuple[int, int]) -> None:
    """A ladder as a whole, one rung of it by limbs, one pass as it was played; then in words."""
    async with replay(ladder()).run_test(size=size) as pilot:
        await opened(pilot)
        assert await drawn(pilot, "replay", size) == kept("replay", size)
        await pilot.press("w", "l", "left_square_bracket", "down")
        await wait_until(pilot, lambda: "rung 1 of 2 alone" in shown(pilot.app))
        assert await drawn(pilot, "replay-rung", size) == kept("replay-rung", size)
        await pilot.press("w", "l", "right_square_bracket")
        await wait_until(pilot, lambda: "pass 2 of 6 alone" in shown(pilot.app))
        assert await drawn(pilot, "replay-pass", size) == kept("replay-pass", size)
        await pilot.press("s")
        await wait_until(pilot, lambda: "Saved:" in shown(pilot.app))
        assert await drawn(pilot, "summary", size) == kept("summary", size)


async def test_a_high_window_shows_the_next_bars_and_the_passes_as_a_strip() -> None:
    """The bar after the one looked at is below it; beside it a sign for each pass of the cell."""
    async with replay().run_test(size=(160, 50)) as pilot:
        await wait_until(pilot, lambda: "pass by pass" in shown(pilot.app))
        assert "bar 2  " in shown(pilot.app)

        def strip() -> str:
            lines = shown(pilot.app).splitlines()
            (at,) = (row for row, line in enumerate(lines) if "pass by pass" in line)
            return lines[at + 1].split()[-1]

        assert strip() == "■■■"
        await pilot.press("right")
        await wait_until(pilot, lambda: strip() == "───")


async def test_a_pass_alone_is_drawn_whole() -> None:
    """In a high window each stroke is drawn once, its letter as large as there is room for."""
    async with replay().run_test(size=(120, 40)) as pilot:
        await opened(pilot)
        await pilot.press("w")
        await wait_until(pilot, lambda: "alone" in shown(pilot.app))
        assert shown(pilot.app).count("▗▄▖") == shown(pilot.app).count("▝▀▘")
        bars = shown(pilot.app).count("bar 1 ") + shown(pilot.app).count("bar 2 ")
        assert bars >= 2
