"""Pads that steer the screens on which nothing is played, so that the sticks stay in the hands.

A thread of its own listens to the kit; a pad that the kit file makes a key becomes a key press.
While something is played the practice loop has the port, and none of this runs.
"""

from __future__ import annotations

from dataclasses import dataclass
from threading import Event, Thread
from time import perf_counter
from typing import TYPE_CHECKING

from trainer.errors import TrainerError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from trainer.kit.model import Kit
    from trainer.midi.hit_source import HitSource
    from trainer.practice.events import PadKeys

POLL_S = 0.03
"""How often the port is looked at: at once to a hand, and next to nothing to the machine."""

RETRY_S = 2.0
"""How long until a port that could not be opened is tried again."""

PRESSES = {"next": "down", "toggle": "enter", "resume": "enter", "restart": "f5", "quit": "escape"}
"""The key that each command of a pad presses, where a screen's own PADS says nothing else."""


@dataclass(frozen=True, slots=True)
class PadSteering:
    """What the pads of a kit at a port mean: the command of each MIDI note."""

    source: Callable[[], HitSource]
    kit: Kit
    table: Mapping[int, str]


class PadListener:
    """Takes in the pads until it is closed; `pressed` is called, on its thread, with each command.

    A port that is not there is no fault: it is tried again now and then, since some systems lend a
    port to one client only and the practice loop may still hold it.
    """

    def __init__(self, steering: PadSteering, pressed: Callable[[str], None]) -> None:
        self._steering, self._pressed = steering, pressed
        self._ended = Event()
        self._thread = Thread(target=self._listen, name="pads", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Let the port go; closing twice is harmless."""
        self._ended.set()
        self._thread.join()

    def _listen(self) -> None:
        while not self._ended.is_set():
            source = self._steering.source()
            try:
                self._follow(source)
            except TrainerError:
                self._ended.wait(RETRY_S)
            finally:
                source.close()

    def _follow(self, source: HitSource) -> None:
        """Take in an open port until the end; home without a kit loads none of it."""
        from trainer.practice.events import PadKeys

        keys = PadKeys(self._steering.table, self._steering.kit, ())
        zero_s = perf_counter()
        source.open(zero_s)
        while not self._ended.wait(POLL_S):
            self._hear(source, keys, perf_counter() - zero_s)

    def _hear(self, source: HitSource, keys: PadKeys, now_s: float) -> None:
        from trainer.kit.hits import Strike

        for one in source.poll(now_s):
            if isinstance(one, Strike) and keys.is_key(one, asked=False):
                command = keys.press(one)
                if command:
                    self._pressed(command.name)
