"""The first reading of the summary, and how it continues between two blocks of a routine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from handmade import course, judged, walk
from stage import shown, wait_until

from trainer.archive.session import RungResult
from trainer.measure.reading import read_take
from trainer.screens import summary
from trainer.screens.trainer_app import TrainerApp
from trainer.show.session_progress import SessionFrame
from trainer.show.verdict_words import next_start, verdict_words

if TYPE_CHECKING:
    from collections.abc import Callable

AROUND = SessionFrame(block="block 1 of 2", after="open block, 5 minutes", pads="Crash")


class Clock:
    """A clock of the test's."""

    seconds = 0.0


def shown_alone(around: SessionFrame, clock: Clock) -> TrainerApp:
    """Return the app on one summary, by a clock of the test's; it ends when that is left."""
    one = summary.SummaryScreen(
        "Evening", ["Played: 3"], None, around=around, now=lambda: clock.seconds
    )
    return TrainerApp(lambda app: app.push_screen(one))


async def test_the_summary_counts_down_to_the_next_block_and_goes_on() -> None:
    """One line says what comes, in how many seconds, and what goes on at once."""
    clock = Clock()
    app = shown_alone(AROUND, clock)
    async with app.run_test(size=(80, 24)) as pilot:
        line = "Next: open block, 5 minutes, in {} s; q or Crash continues at once."
        await wait_until(pilot, lambda: line.format(20) in shown(app))
        clock.seconds = 3.4
        await wait_until(pilot, lambda: line.format(17) in shown(app))
        clock.seconds = 20.0
        await wait_until(pilot, lambda: not app.is_running)
    assert app.return_code == 0


async def test_the_last_summary_waits() -> None:
    """Where nothing follows, nothing is counted down and the summary stays."""
    clock = Clock()
    app = shown_alone(SessionFrame(block="block 2 of 2"), clock)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Played: 3" in shown(app))
        clock.seconds = 1000.0
        await pilot.pause(2 * summary.LOOK_S)
        assert app.is_running
        assert "Next:" not in shown(app)


@pytest.mark.parametrize(
    ("hit", "headline", "following"),
    [
        (lambda index: index == 30, "TOO SHORT", "Next: 100 BPM again, for a minute"),
        (lambda index: 8 <= index < 12, "TOO SHORT", "Next: 100 BPM again, for a minute"),
        (lambda _: True, "CLEAN", "Next: 105 BPM"),
        (lambda index: index != 20, "CLEAN", "Next: 105 BPM"),
        (lambda index: index % 9 > 0, "NOT CLEAN", "Next: 90 BPM, until it is clean there"),
    ],
    ids=["one stroke", "four strokes", "all", "one missed", "many missed"],
)
async def test_the_first_reading_says_whether_and_what_next(
    hit: Callable[[int], bool], headline: str, following: str
) -> None:
    """Whether it was clean, and what to play next with its key, at the smallest window."""
    laid = course(walk(), 4)
    played = judged(laid, offset_ms=lambda target: 0.0 if hit(target.index) else None)
    taken = read_take(played).to_dict()
    words = verdict_words(taken)
    assert words
    assert (words.headline, words.following) == (headline, following)
    app = TrainerApp(summary.SummaryScreen("Singles", [], None, summary=taken, can_continue=True))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: f"{following} – n plays it" in shown(app))


@pytest.mark.parametrize(
    ("rungs", "start"),
    [
        ("90+ 98+ 106- 102-", 98),
        ("71+ 60- 52- 45-", 71),
        ("120+ 126-", 120),
        ("80- 72-", 65),
    ],
)
def test_the_next_ladder_begins_where_it_was_clean(rungs: str, start: float) -> None:
    """At the fastest clean rung up to where it ended, else the slowest; else a tenth below all."""
    played = [
        RungResult(i, float(one[:-1]), one[-1] == "+", () if one[-1] == "+" else ("late",))
        for i, one in enumerate(rungs.split())
    ]

    assert next_start(played) == start
