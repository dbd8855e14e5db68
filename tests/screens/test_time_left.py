"""The time left stands on the screen and in the lines from the first count-in on."""

from __future__ import annotations

import pytest
from stage import Stage, beat, live_app, pattern, shown, wait_until

from trainer.practice.course import seconds_per_quarter
from trainer.practice.events import BeatStarted, PassCut, PassStarted, Paused
from trainer.show.plain_text import PlainText
from trainer.show.session_progress import SessionFrame, TimeLeft

LADDER = SessionFrame(1200.0, ladder=True)
BLOCK = SessionFrame(180.0, block="block 2 of 4", pads="Crash")


@pytest.mark.parametrize(
    ("around", "reported"),
    [(LADDER, ("20 min left", "rung 1  → ")), (BLOCK, ("block 2 of 4, 3 min left",))],
)
async def test_the_first_count_in_shows_the_time_left(
    around: SessionFrame, reported: tuple[str, ...]
) -> None:
    """A ladder's first rung and a routine's block say how long they go on, and where they stand."""
    stage = Stage()
    async with live_app(pattern(), stage, around=around).run_test(size=(80, 24)) as pilot:
        stage.say(beat(0, phase="count-in"))
        await wait_until(pilot, lambda: all(part in shown(pilot.app) for part in reported))
        assert "no stroke yet" in shown(pilot.app)
    stage.close()


async def test_a_pause_names_the_pad_that_goes_on() -> None:
    """Where a pad goes on, it is named beside the key."""
    stage = Stage()
    async with live_app(pattern(), stage, around=BLOCK).run_test(size=(80, 24)) as pilot:
        stage.say(Paused(1.0, "pressed"))
        await wait_until(pilot, lambda: "space or Crash continues" in shown(pilot.app))
    stage.close()
    assert PlainText(pattern(), None, around=BLOCK).lines(Paused(1.0, "pressed")) == [
        "Paused. Crash continues."
    ]


def test_lines_of_text_show_it_too() -> None:
    """The first line of a session says rung, block and time, and only the first."""
    count_in = BeatStarted(1.0, "count-in", 0, 0, 0, 4, 88.0)
    for around, reported in (
        (LADDER, "Rung 1 at 88 BPM, 20 min left."),
        (BLOCK, "Block 2 of 4, 3 min left."),
    ):
        face = PlainText(pattern(), None, around=around)
        assert face.lines(count_in) == [reported, "Count-in: 4 beats to the bar."]
        assert face.lines(count_in) == ["Count-in: 4 beats to the bar."]


def test_the_time_of_a_block_waits_in_a_pause() -> None:
    """A block ends with its last pass, so a pause puts the end off and a pass cut off counts."""
    written = pattern()
    pass_s = float(written.length) * seconds_per_quarter(written, 88.0)
    left = TimeLeft(written, 100.0, 3)
    for event in (
        PassStarted(0, 0, 88.0, 10.0, 0, 4),
        BeatStarted(10.0, "playing", 0, 0, 0, 4, 88.0),
    ):
        left.hear(event)
    assert left.seconds == pytest.approx(3 * pass_s)

    for event in (
        PassCut(0, 11.0, "pressed"),
        Paused(11.0, "pressed"),
        BeatStarted(500.0, "count-in", 1, 0, 0, 4, 88.0),
    ):
        left.hear(event)
    assert left.seconds == pytest.approx(3 * pass_s)

    left.hear(PassStarted(1, 0, 88.0, 503.0, 4, 4))
    left.hear(BeatStarted(503.0 + pass_s, "playing", 2, 0, 0, 4, 88.0))
    assert left.seconds == pytest.approx(2 * pass_s)


def test_practice_without_an_end_shows_no_time() -> None:
    """Neither a bell nor a block: nothing is counted down."""
    left = TimeLeft(pattern(), None, 8)
    left.hear(BeatStarted(10.0, "playing", 0, 0, 0, 4, 88.0))
    assert left.seconds is None
