"""Strokes from a MIDI port, stamped from the driver's own time.

The driver's queue is read, no callback is set: on JACK a callback runs inside the audio thread and
loses notes while it waits for the interpreter. No kind of message is ignored, because on some
systems an ignored message swallows driver time. Everything happens inside `poll`, on the caller's
thread.
"""

from __future__ import annotations

from collections import Counter
from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.midi import names, ports, wire
from trainer.midi.driver_clock import HitClock
from trainer.midi.quality import Delays
from trainer.midi.quiet import quiet

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.midi.source import Made
    from trainer.practice.course import Target

WATCH_S = 1.0
"""How often the list of ports is looked at."""

_REPEATING = ("core",)
"""Systems whose driver repeats time differences within a packet."""


class MidiSource:
    """A kit at a MIDI port. A port that went away is opened again by name when it is back.

    `name` is the port as people see it. `others` counts the messages that are neither strokes nor
    controls, by status byte without channel.
    """

    def __init__(self, wanted: str = "") -> None:
        self.name = wanted
        self.others: Counter[int] = Counter()
        self.read_delays = Delays()
        self._port: names.Port | None = None
        self._client: Any = None
        self._clock = HitClock()
        self._lost = False
        self._zero = self._empty = self._looked = 0.0

    def open(self, zero_s: float) -> None:
        """Find the port and listen. Raises BadInput when it is not there or held by another."""
        self._zero = zero_s
        port = names.pick(ports.inputs(), self.name)
        self._connect(port)
        self.name = port.label

    def expect(self, targets: Sequence[Target]) -> None:
        """Nothing: a drummer plays."""

    def poll(self, now_s: float) -> list[Made]:
        """Return what has arrived since the last call, stamped with its time of arrival."""
        del now_s  # reading takes time itself; each message has its own moment
        if self._client is None:
            return []
        made: list[Made] = []
        if not self._lost:
            while got := self._client.get_message():
                self._take(got[0], got[1], perf_counter(), made)
        self._empty = perf_counter()
        if self._empty - self._looked > WATCH_S:
            self._look()
        return made

    @property
    def lost(self) -> bool:
        """True while the port is gone."""
        return self._lost

    @property
    def settled(self) -> bool:
        """True once enough was heard to know the driver's clock."""
        return self._clock.settled

    @property
    def resolution_ms(self) -> float:
        """The step in which the driver counts time, 0 for finer than it can show."""
        return self._clock.resolution_s * 1e3

    def quality(self) -> dict[str, Any]:
        """Return how well strokes were stamped, safe for JSON.

        `read_late` is how long messages lay in the driver's queue before they were read: the error
        a stamp by the time of reading would have had.
        """
        return {
            "system": self._port.api if self._port else None,
            "settled": self.settled,
            "driver_step_ms": self.resolution_ms,
            "driver_drift_ppm": round(self._clock.drift * 1e6, 1),
            "read_late": self.read_delays.to_dict(),
            "other_messages": sum(self.others.values()),
        }

    def close(self) -> None:
        """Stop listening; closing twice is harmless."""
        client, self._client = self._client, None
        if client is not None:
            with quiet():
                client.close_port()
                client.delete()

    def _take(self, data: Sequence[int], delta: float, read: float, made: list[Made]) -> None:
        """Stamp one message of the driver and add what it says."""
        stamp = self._clock.stamp(delta, read, self._empty)
        self.read_delays.add(read - stamp)
        for message in wire.split(data):
            one = wire.read(message, stamp - self._zero)
            if one is not None:
                made.append(one)
            else:
                status = message[0]
                self.others[status if status >= wire.SYSEX else status & 0xF0] += 1

    def _look(self) -> None:
        """See whether the port is still there, and open it again when it is back."""
        self._looked = self._empty
        here = names.same(self._listed(), self._port) if self._port else None
        if here is None:
            self._lost = True
        elif self._lost:
            self._reopen(here)

    def _listed(self) -> tuple[names.Port, ...]:
        try:
            with quiet():
                return names.ports(self._client.get_ports(), self._port.api if self._port else "")
        except ports.driver_errors():
            return ()

    def _reopen(self, port: names.Port) -> None:
        try:
            old = self._client
            self._connect(port)
            with quiet():
                old.delete()
        except BadInput:
            self._lost = True  # seen but not ready; the next look tries again

    def _connect(self, port: names.Port) -> None:
        client = ports.new_client("input", port.api)
        ports.open_port(client, port, "strokes")
        self._client, self._port = client, port
        self._clock.repeats = port.api in _REPEATING
        self._clock.restart()
        self._lost = False
        self._empty = self._looked = perf_counter()
