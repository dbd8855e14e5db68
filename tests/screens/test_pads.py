"""Pads that steer the screens on which nothing is played."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

import pytest
from at_home import AtHome
from stage import shown, wait_until

from trainer.actions.requests import PlayRequest, setup_on
from trainer.errors import BadInput
from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.midi import pad_steering
from trainer.midi.pad_steering import PadSteering
from trainer.screens.before_playing import BeforePlayingScreen
from trainer.screens.routine import CONTINUE, STOP, RestScreen
from trainer.screens.trainer_app import TrainerApp

if TYPE_CHECKING:
    from trainer.midi.hit_source import SourceEvent

TABLE = {45: "next", 49: "toggle", 51: "restart", 57: "quit"}


class Kit:
    """A source that a test strikes; `opened` and `closed` say what became of it."""

    name = "Pad box"
    lost = False

    def __init__(self, fault: bool = False) -> None:
        self._fault = fault
        self._struck: list[Strike] = []
        self._at_s = 0.0
        self._lock = threading.Lock()
        self.opened = self.closed = False

    def strike(self, note: int) -> None:
        # Far enough apart: a pad acts once in half a second, whatever its trigger sends.
        self._at_s += 1.0
        with self._lock:
            self._struck.append(Strike(self._at_s, note, 90))

    def open(self, zero_s: float) -> None:
        if self._fault:
            raise BadInput("it is not there")
        self.opened = True

    def poll(self, now_s: float) -> list[SourceEvent]:
        with self._lock:
            struck, self._struck = self._struck, []
        return [*struck]

    def close(self) -> None:
        self.closed = True

    def expect(self, targets: Any) -> None:
        """Nothing."""

    def quality(self) -> dict[str, Any]:
        return {}


def steering(kit: Kit) -> PadSteering:
    """Return what the pads of a kit stand for."""
    return PadSteering(lambda: kit, GENERAL_MIDI, TABLE)


def resting(by: PadSteering) -> tuple[TrainerApp, list[str | None]]:
    """Return the app on a rest steered by pads, and what the rest is left with."""
    left: list[str | None] = []

    def opens(app: TrainerApp) -> None:
        app.push_screen(RestScreen(60.0, ""), left.append)
        app.steer_by(by)

    return TrainerApp(opens), left


async def test_pads_choose_a_pattern_at_home_and_start_it() -> None:
    """Next moves down and round, toggle chooses, then starts; other pads and quit do nothing."""
    kit = Kit()
    app = AtHome(steering=lambda _source: steering(kit))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: kit.opened)
        at = app.home.chosen()
        kit.strike(38)
        kit.strike(57)
        kit.strike(45)
        await wait_until(pilot, lambda: app.home.chosen() != at)
        chosen = app.home.chosen()
        assert chosen
        kit.strike(49)
        await wait_until(pilot, lambda: isinstance(app.screen, BeforePlayingScreen))
        assert not app.asked
        kit.strike(49)
        await wait_until(pilot, lambda: app.asked)
    assert app.asked == [PlayRequest(chosen.name, setup=setup_on("Pad box"))]
    assert kit.closed


async def test_a_pad_goes_on_where_it_was_left() -> None:
    """Restart at home is the last pattern at its last tempo."""
    kit = Kit()
    app = AtHome(steering=lambda _source: steering(kit))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: kit.opened)
        kit.strike(51)
        await wait_until(pilot, lambda: app.asked)
    assert app.asked == [PlayRequest("singles", 92.0, setup=setup_on("Pad box"))]


async def test_only_the_kit_that_is_played_on_steers() -> None:
    """With another input chosen its port is let go."""
    kit = Kit()
    app = AtHome(steering=lambda s: steering(kit) if s == "Pad box" else None)
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: kit.opened)
        await pilot.press("c")
        await wait_until(pilot, lambda: kit.closed)
        assert "playing on the computer keys" in shown(app)


@pytest.mark.parametrize(("note", "chosen"), [(45, CONTINUE), (49, CONTINUE), (57, STOP)])
async def test_pads_end_a_rest(note: int, chosen: str) -> None:
    """Next and toggle go on, quit stops the sitting."""
    kit = Kit()
    app, left = resting(steering(kit))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: kit.opened)
        kit.strike(note)
        await wait_until(pilot, lambda: not app.is_running)
    assert left == [chosen]


async def test_a_kit_that_is_not_there_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The screen works as ever meanwhile, and the pads steer once the port can be had."""
    monkeypatch.setattr(pad_steering, "RETRY_S", 0.05)
    kits = [Kit(fault=True), Kit()]
    tried = iter(kits)
    app, left = resting(PadSteering(lambda: next(tried), GENERAL_MIDI, TABLE))
    async with app.run_test(size=(80, 24)) as pilot:
        await wait_until(pilot, lambda: kits[0].closed and kits[1].opened)
        kits[1].strike(49)
        await wait_until(pilot, lambda: not app.is_running)
    assert left == [CONTINUE]
