"""Between two rungs: what the player sees in the quiet, and what stays beside the grid after it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from stage import Stage, beat, live_app, pattern, shown, wait_until

from trainer.practice.events import BeatStarted, PassEnded, RestStarted, RungEnded
from trainer.show import drawing, live_words
from trainer.show.board import Board
from trainer.show.ink import line_text
from trainer.show.session_progress import SessionProgress

if TYPE_CHECKING:
    from collections.abc import Iterator

FAILED = ("hands spread 14 ms, limit 11", "gap of hand and foot 19 ms, limit 15")
SIZES = [(80, 24), (120, 40), (200, 60)]


@pytest.fixture
def stage() -> Iterator[Stage]:
    """Return a practice loop made of a list."""
    made = Stage()
    yield made
    made.close()


def _rung(index: int, clean: bool, *, left_s: float | None = 720.0) -> RungEnded:
    tempo = 88.0 + index
    return RungEnded(index, tempo, clean, () if clean else FAILED, tempo + clean, left_s)


def _large(words: str, screen: str) -> bool:
    """Whether words stand on a screen in large letters of any size."""
    rows = screen.splitlines()
    for times in range(1, 6):
        wanted = [row.rstrip() for row in drawing.large_letters(words, times)]
        for top in range(len(rows)):
            below = rows[top : top + len(wanted)]
            if len(below) == len(wanted) and all(
                want in row for want, row in zip(wanted, below, strict=True)
            ):
                return True
    return False


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("far", [False, True])
async def test_a_failed_rung_is_reported_in_large(
    stage: Stage, size: tuple[int, int], far: bool
) -> None:
    """Not clean, what failed first and by how much, the next tempo and the time left."""
    async with live_app(pattern(), stage).run_test(size=size) as pilot:
        if far:
            await pilot.press("z")
        stage.say(_rung(0, clean=True), _rung(1, clean=False), RestStarted(60.0, 63.0, 89.0))
        await wait_until(pilot, lambda: _large("not clean", shown(pilot.app)))
        screen = shown(pilot.app)
        assert all(_large(word, screen) for word in ("spread", "14 ms,", "11", "next 89", "12 min"))
        assert "rung 2  88✓ 89✗" in screen


async def test_a_long_rest_counts_down_and_a_breath_does_not(stage: Stage) -> None:
    """A break shows how long it still is; the few seconds between rungs show the bell."""
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        stage.say(_rung(0, clean=True), RestStarted(60.0, 120.0, 89.0))
        await wait_until(
            pilot, lambda: any(_large(f"rest {t}", shown(pilot.app)) for t in ("1:00", "0:59"))
        )
        assert not _large("12 min", shown(pilot.app))
        stage.say(_rung(1, clean=True), RestStarted(130.0, 133.0, 90.0))
        await wait_until(pilot, lambda: _large("12 min", shown(pilot.app)))
        assert not any(_large(f"rest 0:0{left}", shown(pilot.app)) for left in range(4))


async def test_the_grid_comes_back_with_the_count_in(stage: Stage) -> None:
    """The count-in needs the beat, so the verdict makes room; the last rungs stay as a row."""
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        stage.say(_rung(0, clean=True), RestStarted(60.0, 63.0, 89.0))
        await wait_until(pilot, lambda: _large("clean", shown(pilot.app)))
        stage.say(beat(0, phase="count-in"))
        await wait_until(pilot, lambda: "floor tom" in shown(pilot.app))
        assert "rung 2  88✓ → 89" in shown(pilot.app)


async def test_what_failed_in_a_pass_is_whole_at_80_columns(stage: Stage) -> None:
    """Plain practice tells under the figures what was not clean, cut by nothing beside it."""
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        stage.say(beat(0), PassEnded(0, 0, 88.0, False, FAILED[:1], {}))
        await wait_until(pilot, lambda: "last: not clean " in shown(pilot.app))
        assert "not clean: hands spread 14 ms, limit 11" in shown(pilot.app)


def test_the_row_keeps_the_newest_rungs_that_fit() -> None:
    """In a narrow place the oldest rungs go first; a tempo is never cut."""
    ended = [_rung(index, clean=index % 2 == 0) for index in range(40)]
    reported = line_text(live_words.rung_row(ended, 30))

    assert len(reported) <= 30
    assert reported == "rung 41  125✗ 126✓ 127✗ → 127"


def test_no_rung_no_row() -> None:
    """Plain practice has no ladder to tell of."""
    assert live_words.rung_row([], 80) == ()


def test_the_bell_comes_nearer_with_every_beat() -> None:
    """A rung tells the time left; beats after it count it down."""
    progress = SessionProgress(Board(pattern()), 88.0)
    for event in (
        _rung(0, clean=True, left_s=100.0),
        RestStarted(50.0, 53.0, 89.0),
        BeatStarted(80.0, "playing", 1, 0, 0, 4, 89.0),
    ):
        progress.hear(event)

    assert progress.seconds_left == 70.0
    assert live_words.minutes_words(progress.seconds_left) == "70 s"
