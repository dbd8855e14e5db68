"""What the screens look like at three sizes, as text: the layout is pinned, not the numbers."""

from __future__ import annotations

import pytest
from shots import SIZES, drawn, kept
from stage import Stage, beat, hit, live_app, pattern, shown, wait_until

from trainer.practice import events


@pytest.mark.parametrize("size", SIZES)
async def test_the_live_screen_with_every_sign(size: tuple[int, int]) -> None:
    """Early, late, far off, missed, wrong pad, extra, double, rim and an unknown note at once."""
    written = pattern(bars=2)
    stage = Stage()
    async with live_app(written, stage, passes=8).run_test(size=size) as pilot:
        hands = [i for i, n in enumerate(written.notes) if n.voice != "kick"]
        stage.say(
            beat(0),
            hit(0, written, hands[0], 0.0),
            hit(1, written, hands[1], -14.0),
            hit(2, written, hands[2], -33.0),
            hit(3, written, hands[3], 14.0),
            hit(4, written, hands[4], 33.0),
            events.TargetMissed(0, 0, hands[5]),
            hit(5, written, hands[6], 3.0, outcome="wrong pad", voice="floor"),
            hit(6, written, hands[7], 3.0, outcome="rim"),
            hit(7, written, None, None, outcome="extra", voice="snare", at=2.0),
            hit(8, written, None, None, outcome="double", voice="snare", at=0.0),
            hit(9, written, None, None, outcome="extra", voice=None, note=77, at=2.5),
            events.Tally(6, 1, 1, 2, 1, 1, 0.004, 0.019),
        )
        await wait_until(pilot, lambda: "unknown note 77: extra stroke" in shown(pilot.app))
        # A count-in stands still: the picture does not depend on how fast the test ran.
        stage.say(beat(1, phase="count-in"))
        await wait_until(pilot, lambda: "count-in 2 of 4" in shown(pilot.app))
        assert await drawn(pilot, "live", size) == kept("live", size)


@pytest.mark.parametrize("size", SIZES)
async def test_a_dense_bar(size: tuple[int, int]) -> None:
    """Thirty-seconds on five voices stay complete in a small window."""
    written = pattern(("snare", "tom1", "tom2", "floor"), per_beat=8)
    stage = Stage()
    async with live_app(written, stage).run_test(size=size) as pilot:
        stage.say(beat(0, phase="count-in"), hit(0, written, 1, 3.0))
        await wait_until(pilot, lambda: "count-in 1 of 4" in shown(pilot.app))
        assert await drawn(pilot, "dense", size) == kept("dense", size)
