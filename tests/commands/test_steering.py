"""Pads that steer the screens: which they are, and a whole round without a key, over real MIDI."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING, Any

import pytest
from patience import until
from terminals import Terminal, finished

from trainer.actions.playing_on import steering_of_port
from trainer.archive.session_file import open_session
from trainer.file_system import user_folder
from trainer.kit import kits
from trainer.kit.model import Kit
from trainer.screens.trainer_app import HOLD_S

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

SNARE, TOGGLE, QUIT = 38, 49, 57


def test_the_kit_file_says_which_pads_steer() -> None:
    """Those of the kit that owns the port, and those given for this time; else none."""
    kits.save(Kit(name="room", ports=("Pad box",), pad_keys={TOGGLE: "toggle"}))
    found = steering_of_port("Pad box")
    assert found
    assert found.kit.name == "room"
    assert found.table == {TOGGLE: "toggle"}
    more = steering_of_port("Pad box", ["57=next"])
    assert more
    assert more.table == {TOGGLE: "toggle", 57: "next"}
    assert steering_of_port("Another box") is None
    assert steering_of_port("keys") is None
    assert steering_of_port("Pad box", ["57=jump"]) is None


@pytest.mark.jack
def test_a_round_with_the_sticks_in_both_hands(sender: Callable[[str], Any]) -> None:
    """From home into a pattern, out of it, past its summary and home again, all by pads."""
    kit = sender("Steer Kit")
    table = {TOGGLE: "toggle", QUIT: "quit"}
    kits.save(Kit(name="room", ports=("Steer Kit",), pad_keys=table))

    def strike(note: int) -> None:
        kit.play([(0.7, (0x99, note, 100)), (0.8, (0x89, note, 0))])

    kept = user_folder("recordings")
    home = Terminal(size=(30, 100))
    try:
        home.read_to("playing on")
        home.read_to("Steer Kit:drums")
        _until(home, lambda: strike(TOGGLE), "Save, quit")
        _look_until(home, lambda: strike(SNARE), lambda: _played(kept))
        strike(QUIT)
        home.read_to("Saved:")
        home.said = ""
        _until(home, lambda: strike(TOGGLE), "playing on")
        home.read(2 * HOLD_S)
        home.type("q")
        assert home.wait() == 0
    finally:
        home.end()
    assert finished(kept).kit.name == "room"


def _played(folder: Path) -> bool:
    """Whether a stroke is kept that counts: those of the count-in alone save nothing."""
    return any(open_session(path).strikes for path in folder.glob("*.jsonl"))


def _until(terminal: Terminal, strike: Callable[[], None], text: str) -> None:
    """Strike again and again until a text is on the screen: a port takes a moment to be heard."""
    _look_until(terminal, strike, lambda: text in terminal.said)


def _look_until(terminal: Terminal, strike: Callable[[], None], there: Callable[[], bool]) -> None:
    """Strike again and again, reading on, until something is so."""
    looks = count()

    def look() -> None:
        if next(looks) % 20 == 0:
            strike()
        terminal.read(0.2)

    until(there, lambda: terminal.said[-3000:], look)
