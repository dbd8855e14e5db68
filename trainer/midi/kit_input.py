"""Strikes from a kit's MIDI port, stamped from the driver's own time.

The driver's queue is read and no callback is set: on JACK a callback runs inside the audio thread
and loses notes while it waits for the interpreter. No kind of message is ignored, because on some
systems an ignored message swallows driver time. `MidiSource` does everything inside `poll`, on the
caller's thread.

`KitMonitor` reads a source on a thread of its own, for screens that draw what a kit sends. Messages
wait in a bounded queue until they are read; when more arrive than anybody reads, the oldest are
lost and counted.
"""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass
from threading import Event, Thread
from time import perf_counter
from typing import TYPE_CHECKING, Any, Protocol

from trainer.midi import midi_message
from trainer.midi.connection import Connection
from trainer.midi.midi_message import PositionJoiner
from trainer.midi.timing import Delays, DriverClock, in_ms, stamp_period_s, trusted_ms

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from trainer.midi.hit_source import SourceEvent
    from trainer.midi.midi_message import Message
    from trainer.practice.course import Target


MOST_MESSAGES_AT_ONCE = 64
"""Messages taken at one poll: where they come as fast as they are read, it still has an end."""

_REPEATING = "core"
"""The system whose driver repeats time differences within a packet."""


class MidiSource:
    """A kit at a MIDI port. A port that went away is opened again by name when it is back.

    `others` counts the messages that are neither strokes nor controls, by status byte without
    channel; `read_delays` how long messages lay in the driver's queue. `overheard`, when set, is
    called with every message and its time, whatever it is.
    """

    def __init__(self, wanted: str = "") -> None:
        self.others: Counter[int] = Counter()
        self.read_delays = Delays()
        self.overheard: Callable[[midi_message.Message, float], None] | None = None
        self._place = PositionJoiner()
        self._plug = Connection("input", wanted, "strokes")
        self._clock = DriverClock()
        self._stamps: deque[float] = deque(maxlen=128)
        self._zero = self._empty = self._period_s = 0.0

    @property
    def name(self) -> str:
        """The port as people see it."""
        return self._plug.name

    def open(self, zero_s: float) -> None:
        """Find the port and listen. Raises BadInput when it is not there or held by another."""
        self._zero = zero_s
        self._plug.open()
        self._begin()

    def expect(self, targets: Sequence[Target]) -> None:
        """Nothing: a drummer plays."""

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return what has arrived since the last call, stamped with its time of arrival."""
        del now_s  # reading takes time itself; each message has its own moment
        made: list[SourceEvent] = []
        for _ in range(MOST_MESSAGES_AT_ONCE):
            got = self._plug.receive()
            if not got:
                self._empty = perf_counter()
                break
            self._take(got[0], got[1], perf_counter(), made)
        read = perf_counter()
        made += self._place.due(read - self._zero)
        if self._plug.watch(read):
            self._begin()
        return made

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
        return self._clock.settled

    @property
    def resolution_ms(self) -> float:
        """The finest time that this run's stamps can be trusted to."""
        return trusted_ms(self._step_s(), self.settled, self.read_delays)

    def quality(self) -> dict[str, Any]:
        """Return how well strokes were stamped, safe for JSON.

        `read_late` is how long messages lay in the driver's queue before they were read: the error
        a stamp by the time of reading would have had.
        """
        return {
            "system": self._plug.api or None,
            "settled": self.settled,
            "step_ms": in_ms(self._step_s()),
            "resolution_ms": self.resolution_ms,
            "driver_drift_ppm": round(self._clock.drift * 1e6, 1),
            "read_late": self.read_delays.to_dict(),
            "other_messages": sum(self.others.values()),
        }

    def close(self) -> None:
        """Stop listening; closing twice is harmless."""
        self._plug.close()

    def _take(
        self, data: Sequence[int], delta: float, read: float, made: list[SourceEvent]
    ) -> None:
        """Stamp one message of the driver and add what it says."""
        stamp = self._clock.stamp(delta, read, self._empty)
        self.read_delays.add(read - stamp)
        self._stamps.append(stamp)
        for message in midi_message.split_messages(data):
            if self.overheard:
                self.overheard(message, stamp - self._zero)
            one = midi_message.read_message(message, stamp - self._zero)
            if one is not None:
                made += self._place.hear(one)
            else:
                status = message[0]
                self.others[status if status >= midi_message.SYSEX else status & 0xF0] += 1

    def _step_s(self) -> float:
        """The step in which stamps come: the driver's count, or the period of a JACK server."""
        period = self._period_s
        if not period and self._plug.api == "jack":
            period = stamp_period_s(self._stamps)
        return max(self._clock.resolution_s, period)

    def _begin(self) -> None:
        """Start a clock for the connection just made."""
        assert self._plug.port
        self._period_s = self._plug.period_s
        self._clock.repeats = self._plug.port.api == _REPEATING
        self._clock.restart()
        self._empty = perf_counter()


READ_EVERY_S = 0.002
MOST_WAITING = 4096


class MonitoredSource(Protocol):
    """A source whose every message can be heard, as `trainer.midi.kit_input.MidiSource`."""

    overheard: Callable[[Message, float], None] | None

    @property
    def name(self) -> str:
        """The port as people see it."""
        ...

    @property
    def lost(self) -> bool:
        """True while the port is gone."""
        ...

    def open(self, zero_s: float) -> None:
        """Start listening; `zero_s` is second 0 on `time.perf_counter()`."""
        ...

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Read what has arrived."""
        ...

    def close(self) -> None:
        """Stop listening."""
        ...


@dataclass(frozen=True, slots=True)
class TimedMessage:
    """One message and when it came, in seconds since listening began."""

    message: Message
    time_s: float


class KitMonitor:
    """Takes in a source until it is closed; opening raises BadInput where the port is not there."""

    def __init__(self, source: MonitoredSource) -> None:
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
