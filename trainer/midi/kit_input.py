"""Strikes from a kit's MIDI port, stamped from the driver's own time.

`MidiSource` does everything inside `poll`, on the caller's thread.

`KitMonitor` reads a source on a thread of its own, for screens that draw what a kit sends. Messages
wait in a bounded queue until they are read; when more arrive than anybody reads, the oldest are
lost and counted.
"""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass
from threading import Event, Thread
from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer.midi import midi_message
from trainer.midi.connection import StampedInput
from trainer.midi.hit_source import HitSource
from trainer.midi.midi_message import PositionJoiner
from trainer.midi.timing import in_ms, trusted_ms

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.midi.hit_source import SourceEvent
    from trainer.midi.midi_message import Message


class MidiSource(HitSource):
    """A kit at a MIDI port. A port that went away is opened again by name when it is back.

    `others` counts the messages that are neither strokes nor controls, by status byte without
    channel. `overheard`, when set, is called with every message and its time, whatever it is.
    """

    def __init__(self, wanted: str = "") -> None:
        self.others: Counter[int] = Counter()
        self.overheard: Callable[[Message, float], None] | None = None
        self._place = PositionJoiner()
        self._plug = StampedInput(wanted, "strokes")

    @property
    def name(self) -> str:
        """The port as people see it."""
        return self._plug.name

    def open(self, zero_s: float) -> None:
        """Find the port and listen. Raises BadInput when it is not there or held by another."""
        self._plug.listen(zero_s)

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return what has arrived since the last call, stamped with its time of arrival."""
        del now_s  # reading takes time itself; each message has its own moment
        made: list[SourceEvent] = []
        for message, time_s in self._plug.read():
            if self.overheard:
                self.overheard(message, time_s)
            one = midi_message.read_message(message, time_s)
            if one is not None:
                made += self._place.hear(one)
            else:
                status = message[0]
                self.others[status if status >= midi_message.SYSEX else status & 0xF0] += 1
        return made + self._place.due(perf_counter() - self._plug.zero_s)

    @property
    def lost(self) -> bool:
        """True while the port is gone."""
        return self._plug.lost

    @property
    def trouble(self) -> str:
        """What is wrong with the port, in words that follow its name; empty while nothing is."""
        return self._plug.trouble

    @property
    def settled(self) -> bool:
        """True once enough was heard to know the driver's clock."""
        return self._plug.clock.settled

    @property
    def resolution_ms(self) -> float:
        """The finest time that this run's stamps can be trusted to."""
        return trusted_ms(self._plug.step_s, self.settled, self._plug.read_delays)

    def quality(self) -> dict[str, Any]:
        """Return how well strokes were stamped, safe for JSON."""
        return {
            "system": self._plug.api or None,
            "settled": self.settled,
            "step_ms": in_ms(self._plug.step_s),
            "resolution_ms": self.resolution_ms,
            "driver_drift_ppm": round(self._plug.clock.drift * 1e6, 1),
            "read_late": self._plug.read_delays.to_dict(),
            "other_messages": sum(self.others.values()),
        }

    def close(self) -> None:
        """Stop listening; closing twice is harmless."""
        self._plug.close()


READ_EVERY_S = 0.002
MOST_WAITING = 4096


@dataclass(frozen=True, slots=True)
class TimedMessage:
    """One message and when it came, in seconds since listening began."""

    message: Message
    time_s: float


class KitMonitor:
    """Takes in a source until it is closed; opening raises BadInput where the port is not there."""

    def __init__(self, source: MidiSource) -> None:
        self.source = source
        self.dropped = 0
        self._heard: deque[TimedMessage] = deque(maxlen=MOST_WAITING)
        self._ended = Event()
        self._zero_s = perf_counter()
        self._thread = Thread(target=self._listen, name="ear", daemon=True)
        source.overheard = self._hear
        source.open(self._zero_s)
        self._thread.start()

    @property
    def name(self) -> str:
        """What is listened to."""
        return self.source.name

    @property
    def lost(self) -> bool:
        """True while the kit is gone."""
        return self.source.lost

    def now(self) -> float:
        """Return the seconds since listening began."""
        return perf_counter() - self._zero_s

    def take(self) -> list[TimedMessage]:
        """Return what was heard since the last time."""
        return [self._heard.popleft() for _ in range(len(self._heard))]

    def close(self) -> None:
        """Stop listening; closing twice is harmless."""
        self._ended.set()
        self._thread.join()
        self.source.close()

    def _listen(self) -> None:
        while not self._ended.wait(READ_EVERY_S):
            self.source.poll(self.now())

    def _hear(self, message: Message, time_s: float) -> None:
        self.dropped += len(self._heard) == MOST_WAITING
        self._heard.append(TimedMessage(message, time_s))
