"""The live screen: what it shows of each event, and what it asks for on each key."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

import pytest
from stage import Stage, beat, hit, live_app, pattern, shown, wait_until

from trainer.practice import events
from trainer.show.plain_text import key_rows
from trainer.show.session_progress import SessionFrame

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def stage() -> Iterator[Stage]:
    """Return a practice loop made of a list."""
    made = Stage()
    yield made
    made.close()


@pytest.mark.parametrize(
    ("key", "command"),
    [
        ("space", events.Command("toggle")),
        ("r", events.Command("restart")),
        ("up", events.Command("tempo", 1)),
        ("plus", events.Command("tempo", 1)),
        ("down", events.Command("tempo", -1)),
        ("minus", events.Command("tempo", -1)),
        ("q", events.Command("quit")),
    ],
)
async def test_every_key_asks_for_its_command(
    stage: Stage, key: str, command: events.Command
) -> None:
    """Keys ask; the practice loop decides."""
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        await pilot.press(key)
        await wait_until(pilot, lambda: stage.asked)
        assert stage.asked == [command]


async def test_other_keys_go_on_as_pads_with_their_time(stage: Stage) -> None:
    """Where the computer keys are the pads, a key is a stroke at the moment it was pressed."""
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        before = time.perf_counter()
        await pilot.press("d")
        await wait_until(pilot, lambda: stage.asked)
        (command,) = stage.asked
        assert (command.name, command.text) == ("key", "d")
        assert before <= command.amount <= time.perf_counter()


@pytest.mark.parametrize("keys", [True, False])
async def test_which_key_is_which_drum_is_shown_where_keys_are_the_kit(
    stage: Stage, keys: bool
) -> None:
    """The rows of keys are on the screen while they are played, and nowhere else."""
    app = live_app(pattern(), stage, around=SessionFrame(keys=keys))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "singles" in shown(app).lower())
        assert all((row in shown(app)) is keys for row in key_rows())


@pytest.mark.parametrize(
    ("size", "early", "late"), [((80, 24), "‹L", "R›"), ((120, 40), "▌█  ", "█▀▄▐")]
)
async def test_a_stroke_is_drawn_by_side_and_reported_in_words(
    stage: Stage, size: tuple[int, int], early: str, late: str
) -> None:
    """Early has its sign left of the letter, late right of it, and the words say which."""
    written = pattern(feet=False)
    async with live_app(written, stage).run_test(size=size) as pilot:
        stage.say(beat(0), hit(0, written, 1, -12.0), hit(1, written, 2, 12.0))
        await wait_until(pilot, lambda: "12 ms late" in shown(pilot.app))
        assert early in shown(pilot.app)
        assert late in shown(pilot.app)
        assert "snare RH 12 ms late" in shown(pilot.app)


async def test_the_count_in_and_a_pause_are_said(stage: Stage) -> None:
    """A count-in and a pause are said in words, with the key that ends the pause."""
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        stage.say(beat(2, phase="count-in"))
        await wait_until(pilot, lambda: "count-in 3 of 4" in shown(pilot.app))
        stage.say(events.Paused(1.0, "the kit was unplugged"))
        await wait_until(pilot, lambda: "paused: the kit was unplugged" in shown(pilot.app))
        assert "space" in shown(pilot.app)


async def test_the_bar_shown_is_the_bar_played(stage: Stage) -> None:
    """A pattern of several bars flips with the beat."""
    async with live_app(pattern(bars=2), stage, passes=3).run_test(size=(80, 24)) as pilot:
        stage.say(beat(0, bar=1, pass_index=1))
        await wait_until(pilot, lambda: "bar 2 of 2" in shown(pilot.app))
        assert "pass 2 of 3" in shown(pilot.app)


async def test_a_small_window_is_a_sentence(stage: Stage) -> None:
    """Too little room says so and goes on; more room brings the grid back."""
    async with live_app(pattern(), stage).run_test(size=(40, 10)) as pilot:
        await wait_until(pilot, lambda: "too small" in shown(pilot.app))
        stage.say(beat(1))
        await pilot.resize_terminal(80, 24)
        await wait_until(pilot, lambda: "snare" in shown(pilot.app))
        assert "beat 2 of 4" in shown(pilot.app)


async def test_the_far_view_says_early_and_late_by_side(stage: Stage) -> None:
    """Large figures take the grid's place; an early stroke stands left, a late one right."""
    written = pattern()
    async with live_app(written, stage).run_test(size=(80, 24)) as pilot:
        await pilot.press("z")
        stage.say(beat(0), hit(0, written, 1, -18.0))
        await wait_until(pilot, lambda: "18 ms early" in shown(pilot.app))
        far = pilot.app.screen.far.plain_text().splitlines()
        early = [line for line in far[7:12] if line.strip()]
        assert all(len(line) < 60 for line in early)
        stage.say(hit(1, written, 2, 18.0))
        await wait_until(pilot, lambda: "18 ms late" in shown(pilot.app))
        far = pilot.app.screen.far.plain_text().splitlines()
        late = [line for line in far[7:12] if line.strip()]
        assert all(line.startswith(" " * 20) for line in late)
        await pilot.press("z")
        await wait_until(pilot, lambda: "snare" in shown(pilot.app))


async def test_the_palette_knows_every_key(stage: Stage) -> None:
    """What a key does can be typed by its name into the palette."""
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        await pilot.press("ctrl+p")
        await pilot.press(*"restart")
        await wait_until(pilot, lambda: "│ Restart r │" in " ".join(shown(pilot.app).split()))
        assert stage.asked == []
        await pilot.press("enter")
        await wait_until(pilot, lambda: stage.asked)
    assert stage.asked == [events.Command("restart")]


async def test_a_ladder_says_its_rung_and_its_rest(stage: Stage) -> None:
    """The verdict of a rung, the next tempo, the time left, and a rest are said in words."""
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        stage.say(beat(0), events.RungEnded(2, 90.0, True, (), 92.0, 720.0))
        await wait_until(pilot, lambda: "rung 4  90✓ → 92" in shown(pilot.app))
        assert "12 min left" in shown(pilot.app)
        stage.say(events.RestStarted(10.0, 70.0, 92.0))
        await wait_until(pilot, lambda: "rest: the count-in follows" in shown(pilot.app))
        assert "12 min left" in shown(pilot.app)


async def test_idle_hits_and_tempos_to_come_are_shown(stage: Stage) -> None:
    """A hit that is not judged is still shown, and a tempo asked for stands beside the present."""
    async with live_app(pattern(), stage).run_test(size=(80, 24)) as pilot:
        stage.say(events.IdleHit(1.0, 38, 80, "snare"), events.TempoChosen(95.0))
        await wait_until(pilot, lambda: "snare (not counted)" in shown(pilot.app))
        assert "next 95" in shown(pilot.app)


async def test_help_shows_every_sign_and_key_and_playing_goes_on(stage: Stage) -> None:
    """The sheet lies over the screen, the session goes on under it, the same key closes it."""
    async with live_app(pattern(), stage).run_test(size=(100, 50)) as pilot:
        await pilot.press("question_mark")
        await wait_until(pilot, lambda: "missed: nothing landed" in shown(pilot.app))
        assert "Large figures" in shown(pilot.app)
        stage.say(beat(3))
        await pilot.press("question_mark")
        await wait_until(pilot, lambda: "beat 4 of 4" in shown(pilot.app))


async def test_a_terminal_that_cannot_keep_up_gets_what_is_so_then(stage: Stage) -> None:
    """While output waits nothing more is drawn; once it is taken the newest is, and all marks."""
    written = pattern(feet=False)
    async with live_app(written, stage).run_test(size=(80, 24)) as pilot:
        slow = SlowWriter()
        pilot.app._driver._writer_thread = slow
        for index in range(4):
            stage.say(beat(0), hit(index, written, index, 11.0 + index))
            await wait_until(
                pilot, lambda index=index: index in pilot.app.screen.progress.board.marks
            )
        assert "ms late" not in shown(pilot.app)
        slow.waiting = 0
        await wait_until(pilot, lambda: "14 ms late" in shown(pilot.app))
        assert all(mark in shown(pilot.app) for mark in ("R› ", "L› "))


class SlowWriter:
    """Stands for the thread that writes to a terminal, with so many pieces waiting."""

    waiting = 9

    @property
    def _queue(self) -> SlowWriter:
        return self

    def qsize(self) -> int:
        return self.waiting
