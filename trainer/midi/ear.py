"""Listening on a thread of its own, for screens that draw what a kit sends.

Messages wait in a bounded queue until they are taken; when a flood comes faster than anybody reads,
the oldest are lost and counted.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from threading import Event, Thread
from time import perf_counter
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.midi.source import Made
    from trainer.midi.wire import Message

LOOK_S = 0.002
MOST = 4096


class Overheard(Protocol):
    """A source whose every message can be heard, as `trainer.midi.listener.MidiSource`."""

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

    def poll(self, now_s: float) -> list[Made]:
        """Read what has arrived."""
        ...

    def close(self) -> None:
        """Stop listening."""
        ...


@dataclass(frozen=True, slots=True)
class Heard:
    """One message and when it came, in seconds since listening began."""

    message: Message
    time_s: float


class Ear:
    """Hears a source until it is closed; opening raises BadInput where the port is not there."""

    def __init__(self, source: Overheard) -> None:
        self.source = source
        self.dropped = 0
        self._heard: deque[Heard] = deque(maxlen=MOST)
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

    def take(self) -> list[Heard]:
        """Return what was heard since the last time."""
        return [self._heard.popleft() for _ in range(len(self._heard))]

    def close(self) -> None:
        """Stop listening; closing twice is harmless."""
        self._ended.set()
        self._thread.join()
        self.source.close()

    def _listen(self) -> None:
        while not self._ended.wait(LOOK_S):
            self.source.poll(self.now())

    def _hear(self, message: Message, time_s: float) -> None:
        self.dropped += len(self._heard) == MOST
        self._heard.append(Heard(message, time_s))
