"""Which MIDI inputs are there, looked at again and again: a kit that appears is to be offered.

One client of each MIDI system is opened and kept, so that a look opens and closes nothing. A system
that does not answer, or ended, is tried again now and then.
"""

from __future__ import annotations

from threading import Lock
from time import perf_counter
from typing import Any

from trainer.errors import BadInput
from trainer.midi import names, ports
from trainer.midi.server_link import HOLDERS, ServerLink, give_up, sockets

LOOK_S = 1.0
"""The list is looked at no more often: asking a JACK server takes half a millisecond."""

RETRY_S = 5.0
"""How long a system that does not answer is left in peace: a try takes some 20 ms."""


class PortWatch:
    """The MIDI inputs, as `trainer ports` lists them.

    What is there at the first look is no arrival. With `retry` false a system that does not answer
    at first is never asked again, for those who cannot wait that long.
    """

    def __init__(self, *, retry: bool = True) -> None:
        self._eyes: list[_Eye] | None = None
        self._retry_s = RETRY_S if retry else float("inf")
        self._looked_s = float("-inf")
        self._here: tuple[names.Port, ...] = ()
        self._known: frozenset[str] | None = None
        self._closed = False
        self._lock = Lock()

    def look(self) -> tuple[str, ...]:
        """Return the labels of `ports`."""
        return tuple(port.label for port in self.ports())

    def ports(self) -> tuple[names.Port, ...]:
        """Return the inputs of the first system that has any; safe to call from any thread."""
        with self._lock:
            now = perf_counter()
            if now - self._looked_s >= LOOK_S and not self._closed:
                self._here = self._look(now)
                self._looked_s = perf_counter()
            return self._here

    def arrived(self) -> list[str]:
        """Look, and return the inputs that were not there the last time this was asked."""
        here = self.look()
        known, self._known = self._known, frozenset(here)
        return [] if known is None else [label for label in here if label not in known]

    def close(self) -> None:
        """Let the clients go; nothing is looked at from then on."""
        with self._lock:
            self._closed = True
            for eye in self._eyes or ():
                eye.give_up()

    def _look(self, now: float) -> tuple[names.Port, ...]:
        if self._eyes is None:
            self._eyes = _eyes()
        for eye in self._eyes:
            found = eye.look(now, self._retry_s)
            if found:
                return found
        return ()


class _Eye:
    """A client of one MIDI system, kept open to look at its list."""

    def __init__(self, api: str) -> None:
        self.api = api
        self._client: Any = None
        self._link: ServerLink | None = None
        self._tried_s = float("-inf")

    def look(self, now: float, retry_s: float) -> tuple[names.Port, ...]:
        """Return the inputs there are now; none where the system does not answer."""
        if self._link and self._link.broken:
            give_up(self.api)
        if self._client is None and now - self._tried_s >= retry_s:
            self._tried_s = now
            self._open()
        return ports.seen(self._client, self.api) if self._client else ()

    def give_up(self) -> None:
        """Let the client go."""
        HOLDERS.discard(self)
        client, self._client, self._link = self._client, None, None
        ports.drop(client)

    def _open(self) -> None:
        before = sockets()
        try:
            self._client = ports.new_client("input", self.api)
        except BadInput:
            return
        self._link = ServerLink(before) if self.api == "jack" else None
        HOLDERS.add(self)


def _eyes() -> list[_Eye]:
    try:
        return [_Eye(name) for name in ports.apis()]
    except BadInput:  # no driver, or one that was asked for and is not there
        return []
