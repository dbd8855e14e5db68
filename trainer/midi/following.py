"""A maker of hits beside an outside clock: both are listened to in one call.

The outside decides when playing goes on: `wishes` hands out a pause when its song stops and a
resume when it runs and its tempo is known.
"""

from __future__ import annotations

from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer.midi import wire
from trainer.midi.clock_in import ClockFollower
from trainer.midi.driver_clock import HitClock
from trainer.midi.plug import Plug
from trainer.practice.events import Command

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.midi.source import HitSource, Made
    from trainer.practice.course import Target


class FollowingSource:
    """Hits of another source, and the MIDI clock of a port in `follower`."""

    def __init__(self, source: HitSource, wanted: str) -> None:
        self.source = source
        self.follower = ClockFollower()
        self._plug = Plug("input", wanted, "clock")
        self._clock = HitClock()
        self._zero = self._empty = 0.0
        self._runs: bool | None = None
        self._wishes: list[Command] = []

    @property
    def name(self) -> str:
        """The maker of hits."""
        return self.source.name

    @property
    def lost(self) -> bool:
        """True while the maker of hits is gone. A clock that is gone has stopped."""
        return self.source.lost

    @property
    def trouble(self) -> str:
        """What is wrong with the maker of hits, in words, where it tells."""
        return str(getattr(self.source, "trouble", ""))

    @property
    def resolution_ms(self) -> float | None:
        """The finest time that the hits can be trusted to, where the source knows."""
        return getattr(self.source, "resolution_ms", None)

    def open(self, zero_s: float) -> None:
        """Open both. Raises BadInput when either is not there."""
        self._zero = zero_s
        self.source.open(zero_s)
        try:
            self._plug.open()
        except BaseException:
            self.source.close()
            raise
        self._empty = perf_counter()

    def expect(self, targets: Sequence[Target]) -> None:
        """Pass on what will be due."""
        self.source.expect(targets)

    def press(self, key: str, now_s: float) -> bool:
        """Pass on a computer key, where keys are the pads."""
        press = getattr(self.source, "press", None)
        return bool(press and press(key, now_s))

    def poll(self, now_s: float) -> list[Made]:
        """Return the hits since the last call; hear the clock meanwhile."""
        self._hear()
        runs = self.follower.running(now_s)
        if runs is not self._runs:
            self._runs = runs
            stopped = Command("pause", text="the outside clock stands still")
            self._wishes.append(Command("resume") if runs else stopped)
        return self.source.poll(now_s)

    def wishes(self) -> list[Command]:
        """Return what the outside has asked for since the last call."""
        wishes, self._wishes = self._wishes, []
        return wishes

    def quality(self) -> dict[str, Any]:
        """Return the source's figures, and the tempo outside."""
        tempo = self.follower.tempo
        clock = {"port": self._plug.name, "tempo": tempo and round(tempo, 3)}
        return {**self.source.quality(), "outside_clock": clock}

    def close(self) -> None:
        """Close both; closing twice is harmless."""
        self._plug.close()
        self.source.close()

    def _hear(self) -> None:
        while got := self._plug.receive():
            stamp = self._clock.stamp(got[1], perf_counter(), self._empty)
            for message in wire.split(got[0]):
                self.follower.hear(message, stamp - self._zero)
        self._empty = perf_counter()
        if self._plug.watch(self._empty):
            self._clock.restart()
