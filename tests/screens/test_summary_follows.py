"""Between two blocks of a routine the summary goes on by itself, with the sticks in the hands."""

from __future__ import annotations

import pytest
from stage import Stage, pattern, shown, wait_until

from trainer.practice import events
from trainer.screens import summary
from trainer.screens.live_app import make_live_app
from trainer.screens.trainer_app import TrainerApp
from trainer.show.session_progress import SessionFrame

AROUND = SessionFrame(block="block 1 of 2", after="free play, 5 minutes", pads="Crash")


class Shown(TrainerApp[None]):
    """An app that shows one summary by a clock of the test's."""

    def __init__(self, around: SessionFrame) -> None:
        super().__init__()
        self.seconds, self.around = 0.0, around

    def get_default_screen(self) -> summary.SummaryScreen:
        """Begin with the summary."""
        return summary.SummaryScreen(
            "Evening", ["Played: 3"], None, around=self.around, now=lambda: self.seconds
        )


async def test_the_summary_counts_down_to_the_next_block_and_goes_on() -> None:
    """One line says what comes, in how many seconds, and what goes on at once."""
    app = Shown(AROUND)
    async with app.run_test(size=(80, 24)) as pilot:
        line = "Next: free play, 5 minutes, in {} s; q or Crash goes on at once."
        await wait_until(pilot, lambda: line.format(20) in shown(app))
        app.seconds = 3.4
        await wait_until(pilot, lambda: line.format(17) in shown(app))
        assert app.is_running
        app.seconds = 20.0
        await wait_until(pilot, lambda: not app.is_running)
    assert app.return_code == 0


async def test_the_last_summary_waits() -> None:
    """Where nothing follows, nothing is counted down and the summary stays."""
    app = Shown(SessionFrame(block="block 2 of 2"))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: "Played: 3" in shown(app))
        app.seconds = 1000.0
        await pilot.pause(2 * summary.LOOK_S)
        assert app.is_running
        assert "Next:" not in shown(app)


@pytest.mark.parametrize("stopped", [False, True])
async def test_only_a_block_that_was_played_to_its_end_is_followed_by_itself(
    stopped: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The end is told before the summary is read; who stops a block is not carried on."""
    monkeypatch.setattr("trainer.screens.live_app.closing_lines", lambda _: ["Played: 3"])
    stage, heard = Stage(), []
    app = make_live_app(pattern(), stage, around=AROUND, ended=heard.append)
    end = events.Finished(None, {}, stopped)
    async with app.run_test(size=(80, 24)) as pilot:
        stage.say(end)
        await wait_until(pilot, lambda: "Played: 3" in shown(app))
        assert heard == [end]
        assert ("Next: free play" in shown(app)) is not stopped
        assert "Crash" not in shown(app)  # no pad is heard after this end
        await pilot.press("q")
    stage.close()
