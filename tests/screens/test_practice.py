"""Playing inside the app: the wait, the session, its summary, and back to where it was asked."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

import pytest
from stage import Stage, beat, pattern, shown, wait_until

from trainer.actions.prepare import Practice
from trainer.actions.requests import PlayRequest, RoutineRequest
from trainer.engine.job import Job
from trainer.errors import BadInput
from trainer.kit.model import GENERAL_MIDI
from trainer.midi.click import SilentClick
from trainer.midi.simulated_player import SimulatedPlayer
from trainer.practice import events
from trainer.practice.plan import SteadyPlan
from trainer.screens import practice, trainer_app
from trainer.screens.dialogs import MessageScreen, WaitScreen
from trainer.screens.live import LiveScreen
from trainer.screens.routine import RoutineScreen
from trainer.screens.summary import SummaryScreen
from trainer.screens.trainer_app import HOLD_S, TrainerApp
from trainer.show.session_progress import SessionFrame
from trainer.show.verdict_words import not_played

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from textual.pilot import Pilot

SIZE = (80, 24)
FRAME = SessionFrame(block="block 1 of 2", after="open block, 5 minutes", pads="Crash")
END = events.Finished("/tmp/session.jsonl", {"played": 12})


@pytest.fixture
def stage(monkeypatch: pytest.MonkeyPatch) -> Iterator[Stage]:
    """Return a practice loop made of a list; it takes the engine's place."""
    made = Stage()
    monkeypatch.setattr(practice, "start_engine", lambda _job: made)

    def closing(ended: events.Finished) -> practice.Closing:
        return practice.Closing([str(ended.summary)])

    monkeypatch.setattr(practice, "closing_of", closing)
    yield made
    made.close()


@pytest.fixture
def prepared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Practice:
    """Return what is prepared, whatever is asked for."""
    player = SimulatedPlayer(GENERAL_MIDI, 1)
    plan, click = SteadyPlan(90.0, None, 1), SilentClick()
    made = Practice(Job(pattern(), GENERAL_MIDI, plan, player, click, tmp_path), 90.0)
    monkeypatch.setattr(practice, "prepare", lambda _request, _waiting: made)
    return made


def on_command() -> TrainerApp:
    """Return the app as `trainer play` starts it."""
    return TrainerApp(lambda app: app.play(PlayRequest("singles")), practice.play_request)


class Below(MessageScreen):
    """A screen from which something is played."""

    def __init__(self) -> None:
        super().__init__(["the screen below"])


async def held(pilot: Pilot[Any]) -> None:
    """Let the moment pass in which keys are passed over."""
    await pilot.pause(1.2 * HOLD_S)


async def test_the_end_shows_the_summary_and_where_it_is(stage: Stage, prepared: Practice) -> None:
    """After the last pass comes the summary with the saved path; closing it ends the command."""
    app = on_command()
    async with app.run_test(size=SIZE) as pilot:
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        stage.say(beat(0), END)
        await wait_until(pilot, lambda: "session.jsonl" in shown(app))
        assert "{'played': 12}" in shown(app)
        await held(pilot)
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)
    assert app.sessions == [END]
    assert app.return_code == 0
    assert stage.closed


async def test_a_dead_engine_ends_the_command_with_a_sentence(
    stage: Stage, prepared: Practice
) -> None:
    """When the other side is gone the app ends instead of showing a frozen bar."""
    app = on_command()
    async with app.run_test(size=SIZE) as pilot:
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        stage.leave()
        await wait_until(pilot, lambda: not app.is_running)
    assert stage.closed
    assert "ended early" in str(app.fault)
    assert app.return_code == 1


async def test_a_dead_engine_is_said_on_a_screen_where_another_lies_below(
    stage: Stage, prepared: Practice
) -> None:
    """The sentence can be read, and the screen below is back after it."""
    app = TrainerApp(Below(), practice.play_request)
    async with app.run_test(size=SIZE) as pilot:
        app.play(PlayRequest("singles"))
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        stage.leave()
        await wait_until(pilot, lambda: "ended early" in shown(app))
        await held(pilot)
        await pilot.press("q")
        await wait_until(pilot, lambda: "the screen below" in shown(app))
    assert app.fault is None


async def test_sessions_follow_each_other_in_one_app(
    stage: Stage, prepared: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From a screen into practice and back, three times, with nothing left on the stack."""
    app = TrainerApp(Below(), practice.play_request)
    async with app.run_test(size=SIZE) as pilot:
        for _ in range(3):
            one = Stage()
            monkeypatch.setattr(practice, "start_engine", lambda _job, one=one: one)
            app.play(PlayRequest("singles"))
            await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
            one.say(END)
            await wait_until(pilot, lambda: isinstance(app.screen, SummaryScreen))
            await held(pilot)
            await pilot.press("q")
            await wait_until(pilot, lambda: "the screen below" in shown(app))
            assert app.screen is app.bottom
            assert one.closed
    assert app.sessions == [END] * 3


@pytest.mark.parametrize("stopped", [False, True])
async def test_only_a_block_that_was_played_to_its_end_is_followed(
    stopped: bool, stage: Stage, prepared: Practice
) -> None:
    """The end is reported before the summary is read; who stops a block is not carried on."""
    heard: list[events.Finished] = []
    end = events.Finished(None, {}, stopped)

    def opens(app: TrainerApp) -> None:
        app.run_worker(practice.practise(app, lambda _: prepared, FRAME, heard.append))

    app = TrainerApp(opens)
    async with app.run_test(size=SIZE) as pilot:
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        stage.say(end)
        await wait_until(pilot, lambda: isinstance(app.screen, SummaryScreen))
        await wait_until(pilot, lambda: "Nothing was saved" in shown(app))
        assert heard == [end]
        assert ("Next: open block" in shown(app)) is not stopped
        assert "Crash" not in shown(app)  # no pad is heard after this end


async def test_strokes_on_the_keys_do_nothing_to_the_summary_that_comes(
    stage: Stage, prepared: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who drums on the keys when the last pass ends neither closes nor saves anything."""
    monkeypatch.setattr(trainer_app, "HOLD_S", 1000.0)
    app = on_command()
    async with app.run_test(size=SIZE) as pilot:
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        await pilot.press("q")
        stage.say(END)
        await wait_until(pilot, lambda: isinstance(app.screen, SummaryScreen))
        await pilot.press("q", "x", "enter")
        assert isinstance(app.screen, SummaryScreen)
        assert not app._notifications
    assert not stage.asked  # what was typed for the screen before did not reach this one either


async def test_what_cannot_be_played_is_said_where_it_was_asked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A wrong port is a sentence on a screen, and the screen below is back after it."""

    def refused(_request: object, _waiting: object) -> Practice:
        raise BadInput("not connected", where='MIDI input "Kitt"', fix="give another")

    monkeypatch.setattr(practice, "prepare", refused)
    app = TrainerApp(Below(), practice.play_request)
    async with app.run_test(size=SIZE) as pilot:
        app.play(PlayRequest("singles"))
        await wait_until(pilot, lambda: "not connected; give another." in shown(app))
        await held(pilot)
        await pilot.press("escape")
        await wait_until(pilot, lambda: "the screen below" in shown(app))
    command = on_command()
    async with command.run_test(size=SIZE) as pilot:
        await wait_until(pilot, lambda: not command.is_running)
    assert "not connected" in str(command.fault)
    assert command.return_code == 2


async def test_a_kit_is_waited_for_until_the_player_gives_up(
    stage: Stage, prepared: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The screen says what is missing; left with q, nothing is started any more."""
    gave_up = threading.Event()

    def waits(_request: object, waiting: Any) -> Practice:
        try:
            while True:
                waiting("Stage Kit")
        finally:
            gave_up.set()

    monkeypatch.setattr(practice, "prepare", waits)
    app = TrainerApp(Below(), practice.play_request)
    async with app.run_test(size=SIZE) as pilot:
        app.play(PlayRequest("singles"))
        await wait_until(pilot, lambda: 'No MIDI input called "Stage Kit"' in shown(app))
        await pilot.press("q")
        await wait_until(pilot, lambda: "the screen below" in shown(app))
        await wait_until(pilot, gave_up.is_set)
        monkeypatch.setattr(practice, "prepare", lambda _request, _waiting: prepared)
        app.play(PlayRequest("singles"))
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))


async def test_an_engine_that_starts_for_nobody_is_let_go(
    stage: Stage, prepared: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Left while the ports open, the practice loop is closed as soon as it is there."""
    goes = threading.Event()

    def slow(_job: object) -> Stage:
        goes.wait(5)
        return stage

    monkeypatch.setattr(practice, "start_engine", slow)
    app = TrainerApp(Below(), practice.play_request)
    async with app.run_test(size=SIZE) as pilot:
        app.play(PlayRequest("singles"))
        await wait_until(pilot, lambda: "opening the ports" in shown(app))
        assert isinstance(app.screen, WaitScreen)
        await pilot.press("q")
        await wait_until(pilot, lambda: "the screen below" in shown(app))
        goes.set()
        await wait_until(pilot, lambda: stage.closed)
        assert app.playing is None


async def test_the_app_quits_by_ending_the_session_first(stage: Stage, prepared: Practice) -> None:
    """Ctrl-Q asks for the end of what is played; only then does it end the app."""
    app = on_command()
    async with app.run_test(size=SIZE) as pilot:
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        await held(pilot)
        await pilot.press("ctrl+q")
        await wait_until(pilot, lambda: [one.name for one in stage.asked] == ["quit"])
        assert app.is_running
        stage.say(END)
        await wait_until(pilot, lambda: isinstance(app.screen, SummaryScreen))


ROUTINE = """
title = "Evening"
[[block]]
kind = "warm-up"
pattern = "single-stroke-roll"
tempo = 120
minutes = 0.5
[[block]]
kind = "rest"
minutes = 1
[[block]]
kind = "free"
minutes = 0.5
"""


async def test_a_routine_goes_from_block_to_block(
    stage: Stage, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Overview, block, summary, rest, block, the whole practice, and the overview: all is done."""
    path = tmp_path / "evening.toml"
    path.write_text(ROUTINE)
    jobs: list[Job] = []
    stages = [Stage(), Stage()]

    def start(job: Job) -> Stage:
        jobs.append(job)
        return stages[len(jobs) - 1]

    monkeypatch.setattr(practice, "start_engine", start)
    request = RoutineRequest(str(path), setup=practice_on_simulated(tmp_path))
    app = TrainerApp(lambda app: app.play(request), practice.play_request)
    async with app.run_test(size=SIZE) as pilot:
        await wait_until(pilot, lambda: "block 1 of 3" in shown(app))
        await pilot.press("enter")
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        stages[0].say(END)
        await wait_until(pilot, lambda: "Next: rest" in shown(app))
        await held(pilot)
        await pilot.press("q")
        await wait_until(pilot, lambda: "Then: open block" in shown(app))
        await held(pilot)
        await pilot.press("enter")
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        stages[1].say(END)
        await wait_until(pilot, lambda: isinstance(app.screen, SummaryScreen))
        await held(pilot)
        await pilot.press("q")
        await wait_until(pilot, lambda: "2 blocks" in shown(app))
        await held(pilot)
        await pilot.press("q")
        await wait_until(pilot, lambda: "The routine is done" in shown(app))
        assert isinstance(app.screen, RoutineScreen)
        await held(pilot)
        await pilot.press("q")
        await wait_until(pilot, lambda: not app.is_running)
    assert [job.pattern.name for job in jobs] == ["single-stroke-roll", "free-play"]
    assert app.routine is None


def practice_on_simulated(folder: Path) -> Any:
    """Return the setup of a simulated player, saved in a folder."""
    from trainer.actions.requests import PlayedOn, Setup

    return Setup(PlayedOn("simulated"), recordings=str(folder))


async def test_a_real_engine_starts_inside_the_app_again_and_again(tmp_path: Path) -> None:
    """A process of its own each time, while Textual holds the standard streams."""
    request = PlayRequest("single-stroke-roll", 240.0, setup=practice_on_simulated(tmp_path))
    app = TrainerApp(Below(), practice.play_request)
    processes = set()
    async with app.run_test(size=SIZE) as pilot:
        for _ in range(2):
            app.play(request)
            await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
            live = app.screen
            assert isinstance(live, LiveScreen)
            await wait_until(pilot, lambda live=live: live.progress.tally.played)
            assert app.playing
            processes.add(app.playing.handle.process.pid)
            await pilot.press("q")
            await wait_until(pilot, lambda: isinstance(app.screen, SummaryScreen))
            await held(pilot)
            await pilot.press("q")
            await wait_until(pilot, lambda: "the screen below" in shown(app))
    assert len(processes) == 2
    assert len(list(tmp_path.glob("*.jsonl"))) == 2


async def test_a_session_without_a_stroke_says_so_and_plays_again(
    stage: Stage, prepared: Practice, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not played, in large; once that nothing was saved; n plays it again at its tempo."""
    app = on_command()
    async with app.run_test(size=SIZE) as pilot:
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        stage.say(beat(0), events.Finished(None, {}, stopped=True, unplayed=True))
        await wait_until(pilot, lambda: "Next: 90 BPM again, for a minute" in shown(app))
        assert isinstance(app.screen, SummaryScreen)
        assert app.screen.verdict == not_played(90.0)
        assert "Nothing was saved" not in shown(app)
        await held(pilot)
        again = Stage()
        monkeypatch.setattr(practice, "start_engine", lambda _job: again)
        await pilot.press("n")
        await wait_until(pilot, lambda: isinstance(app.screen, LiveScreen))
        again.say(END)
        await wait_until(pilot, lambda: isinstance(app.screen, SummaryScreen))
