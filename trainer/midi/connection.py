"""Connections to MIDI ports that survive unplugging, and the watch for kits that are plugged in.

No MIDI system reports an unplugged device: its port only leaves the list, and sending or reading
continues without an error and without effect, also after the device is back. So `Connection` looks
at the list again and again, through the one client that is open anyway, and knows the port by its
identity, not by its number. On ALSA and JACK it also asks whether we are still connected
(`trainer.midi.alsa`, `trainer.midi.jack`): others may cut the connection, and a plug may be pulled
and put back between two looks.

`StampedInput` is an input that gives every message the time it arrived. The driver's queue is read
and no callback is set: on JACK a callback runs inside the audio thread and loses notes while it
waits for the interpreter. No kind of message is ignored, because on some systems an ignored message
swallows driver time.

`PortWatch` lists the MIDI inputs, so that a kit that appears can be offered. It keeps one client of
each MIDI system open, so that a look opens and closes nothing. A system that does not answer, or
ended, is tried again now and then.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from threading import Lock
from time import perf_counter
from typing import TYPE_CHECKING, Any, Protocol

from trainer.errors import BadInput
from trainer.midi import midi_message, port_names, ports
from trainer.midi.alsa import AlsaCable
from trainer.midi.jack import CLIENT_HOLDERS, JackCable, ServerLink, drop_clients, open_sockets
from trainer.midi.timing import Delays, DriverClock, stamp_period_s

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.midi.midi_message import Message


WATCH_S = 0.5
"""How often the connection is looked at; where only the list of ports shows, a plug pulled and put
back in less goes unnoticed."""

GONE = "is gone"
CUT = "was disconnected"
HELD = "is there but cannot be opened; close the other program that uses it"
UNSURE = "may be gone: one of several with its name is; strike a pad"


class Cable(Protocol):
    """One connection of ours, as its MIDI system knows it."""

    @property
    def period_s(self) -> float:
        """How often a server hands messages over, 0 where messages come at once."""
        ...

    @property
    def intact(self) -> bool | None:
        """True while we are connected, False once we are not, None where it is not known."""
        ...

    def find(self) -> bool:
        """Find the connection made just now; False where it leads to another port."""
        ...

    def close(self) -> None:
        """Let go of what asks."""
        ...


def _cable(port: port_names.Port, end: str) -> Cable | None:
    """What knows a connection to a port; None in systems that do not. To be made before it is."""
    if port.api == "alsa":
        return AlsaCable(port.name, end)
    return JackCable(port.name) if port.api == "jack" else None


class Connection:
    """One connection; `name` is the port's label, `port` is None before the first connection.

    `kind` is `input` or `output`, seen from here; `end` names our own end of the connection.
    `trouble` says in words what is wrong, from the moment it is noticed until it is fixed. Ports
    of the same name that were seen beside ours are remembered: none of them is taken for it.
    """

    def __init__(self, kind: str, wanted: str, end: str) -> None:
        self.kind, self.name, self.end = kind, wanted, end
        self.port: port_names.Port | None = None
        self.trouble = ""
        self.looked_s = 0.0
        self._client: Any = None
        self._link: ServerLink | None = None
        self._cable: Cable | None = None
        self._others: frozenset[str] = frozenset()

    @property
    def api(self) -> str:
        """The MIDI system of the port, empty before the first connection."""
        return self.port.api if self.port else ""

    @property
    def lost(self) -> bool:
        """True while there is no connection."""
        return bool(self.trouble)

    @property
    def period_s(self) -> float:
        """How often a JACK server hands messages over, 0 for other systems or where unknown."""
        return self._cable.period_s if self._cable else 0.0

    def open(self) -> None:
        """Find the port and connect. Raises BadInput when it is not there or held by another."""
        found = ports.inputs() if self.kind == "input" else ports.outputs()
        self._connect(port_names.pick_port(found, self.name, self.kind), found)
        CLIENT_HOLDERS.add(self)

    def receive(self) -> Any:
        """Return the next message and the seconds since the one before, None for no more."""
        got = self._client.get_message() if self._client else None
        if got and self.trouble == UNSURE:
            self._stayed()
        return got

    def send(self, message: Sequence[int]) -> None:
        """Send a message; while there is no connection it is lost."""
        if self._client:
            self._client.send_message(message)

    def watch(self, now_s: float) -> bool:
        """Look at the list when it is time to; return True when the port was connected again.

        `now_s` is `time.perf_counter()`.
        """
        if now_s - self.looked_s < WATCH_S or self not in CLIENT_HOLDERS:
            return False
        self.looked_s = now_s
        if self._client is None:
            return self._connect_again()
        assert self.port
        if self._link and self._link.broken:
            drop_clients(self.port.api)
            return False
        intact = self._cable.intact if self._cable else None
        if intact and not self.lost and self.api == "jack":
            return False  # names are unique there, so there is nothing to learn from the list
        found = ports.seen(self._client, self.api)
        here = port_names.same_port(found, self.port, self._others)
        if intact and not self.lost:
            self._remember(found)
        elif here is None:
            self._miss(found)
        elif self.lost or here.name != self.port.name:
            return self._connect_again()
        elif intact is False:
            self.trouble = CUT
        else:
            self.port = here
            self._remember(found)
        return False

    def _miss(self, found: Sequence[port_names.Port]) -> None:
        """Say that the port is away, or perhaps is."""
        assert self.port
        left = self.kind == "input" and port_names.one_of_several_left(found, self.port)
        self.trouble = UNSURE if left else GONE

    def _stayed(self) -> None:
        """A message came: of the ports with this name, one of the others has gone."""
        assert self.port
        found = port_names.alike(ports.seen(self._client, self.api), self.port)
        if found:
            place = min(self.port.position, len(found) - 1)
            self.port = replace(self.port, position=place, among=len(found))
            self.trouble = ""

    def _remember(self, found: Sequence[port_names.Port]) -> None:
        """Remember the ports of the same name beside ours."""
        assert self.port
        here = {port.identity for port in port_names.alike(found, self.port)}
        self._others = (self._others | here) - {self.port.identity}

    def give_up(self) -> None:
        """Let the client go, to be made again once there is a server."""
        self._drop()
        self.trouble = GONE

    def close(self) -> None:
        """Disconnect; closing twice is harmless."""
        CLIENT_HOLDERS.discard(self)
        self._drop()

    def _drop(self) -> None:
        client, self._client = self._client, None
        cable, self._cable = self._cable, None
        if cable:
            cable.close()
        ports.drop(client)

    def _connect_again(self) -> bool:
        assert self.port
        here = None
        try:
            found = ports.of_kind(self.kind, self.port.api)
            here = port_names.same_port(found, self.port, self._others)
            if here:
                self._connect(here, found)
        except BadInput:  # no server, or the port is not ready yet; the next look tries again
            self.trouble = HELD if here else GONE
            return False
        return here is not None

    def _connect(self, port: port_names.Port, found: Sequence[port_names.Port]) -> None:
        jack = port.api == "jack"
        before = open_sockets() if jack else {}
        cable = None if jack else _cable(port, self.end)
        client = ports.new_client(self.kind, port.api)
        link = ServerLink(before) if jack else None
        # The JACK library gets a second client only beside the first, so that both have one server.
        cable = cable or _cable(port, self.end)
        try:
            ports.open_port(client, port, self.end)
            if cable and not cable.find():
                raise BadInput("another port was opened instead", fix="try again")
        except BadInput:
            if cable:
                cable.close()
            ports.drop(client)
            raise
        self._drop()
        self._client, self._link, self._cable = client, link, cable
        self.port, self.name, self.trouble = port, port.label, ""
        self._remember(found)
        self.looked_s = perf_counter()


MOST_MESSAGES_AT_ONCE = 64
"""Messages taken in one reading: where they come as fast as they are read, it still has an end."""

_REPEATING = "core"
"""The system whose driver repeats time differences within a packet."""


class StampedInput(Connection):
    """An input whose messages have the time they arrived, in seconds on the session's clock.

    `read_delays` says how long messages were in the driver's queue: the error a stamp by the time
    of reading would have had.
    """

    def __init__(self, wanted: str, end: str) -> None:
        super().__init__("input", wanted, end)
        self.read_delays = Delays()
        self.clock = DriverClock()
        self.zero_s = self._empty_s = self._server_s = 0.0
        self._stamps: deque[float] = deque(maxlen=128)

    def listen(self, zero_s: float) -> None:
        """Connect; `zero_s` is second 0 on `time.perf_counter()`. Raises BadInput like `open`."""
        self.zero_s = zero_s
        self.open()
        self._begin()

    def read(self) -> list[tuple[Message, float]]:
        """Return the messages since the last call, each with its time, and watch the connection."""
        found: list[tuple[Message, float]] = []
        for _ in range(MOST_MESSAGES_AT_ONCE):
            got = self.receive()
            read_s = perf_counter()
            if not got:
                self._empty_s = read_s
                break
            stamp = self.clock.stamp(got[1], read_s, self._empty_s)
            self.read_delays.add(read_s - stamp)
            self._stamps.append(stamp)
            time_s = stamp - self.zero_s
            found += [(message, time_s) for message in midi_message.split_messages(got[0])]
        if self.watch(perf_counter()):
            self._begin()
        return found

    @property
    def step_s(self) -> float:
        """The step in which stamps come: the driver's count, or the period of a JACK server."""
        period_s = self._server_s
        if not period_s and self.api == "jack":
            period_s = stamp_period_s(self._stamps)
        return max(self.clock.resolution_s, period_s)

    def _begin(self) -> None:
        """Start a clock for the connection just made."""
        self._server_s = self.period_s
        self.clock.repeats = self.api == _REPEATING
        self.clock.restart()
        self._empty_s = perf_counter()


LIST_EVERY_S = 1.0
"""The list is looked at no more often: asking a JACK server takes half a millisecond."""

RETRY_S = 5.0
"""How long a system that does not answer is not tried again: a try takes some 20 ms."""


class PortWatch:
    """The MIDI inputs of all systems.

    What is there at the first look is no arrival. With `retry` false a system that does not answer
    at first is never asked again, for those who cannot wait that long.
    """

    def __init__(self, *, retry: bool = True) -> None:
        self._eyes: list[_SystemWatch] | None = None
        self._retry_s = RETRY_S if retry else float("inf")
        self._looked_s = float("-inf")
        self._here: tuple[port_names.Port, ...] = ()
        self._known: frozenset[str] | None = None
        self._closed = False
        self._lock = Lock()

    def look(self) -> tuple[str, ...]:
        """Return the labels of those that may be a kit."""
        return tuple(dict.fromkeys(port.label for port in port_names.kits(self.ports())))

    def ports(self) -> tuple[port_names.Port, ...]:
        """Return the inputs there are; safe to call from any thread."""
        with self._lock:
            now = perf_counter()
            if now - self._looked_s >= LIST_EVERY_S and not self._closed:
                self._here = self._look(now)
                self._looked_s = perf_counter()
            return self._here

    def arrived(self) -> list[str]:
        """Look, and return the kits that were not there the last time this was asked."""
        here = self.look()
        known, self._known = self._known, frozenset(here)
        return [] if known is None else [label for label in here if label not in known]

    def close(self) -> None:
        """Let the clients go; nothing is looked at from then on."""
        with self._lock:
            self._closed = True
            for eye in self._eyes or ():
                eye.give_up()

    def _look(self, now: float) -> tuple[port_names.Port, ...]:
        if self._eyes is None:
            self._eyes = _system_watches()
        return tuple(port for eye in self._eyes for port in eye.look(now, self._retry_s))


class _SystemWatch:
    """A client of one MIDI system, kept open to look at its list."""

    def __init__(self, api: str) -> None:
        self.api = api
        self._client: Any = None
        self._link: ServerLink | None = None
        self._tried_s = float("-inf")

    def look(self, now: float, retry_s: float) -> tuple[port_names.Port, ...]:
        """Return the inputs there are now; none where the system does not answer."""
        if self._link and self._link.broken:
            drop_clients(self.api)
        if self._client is None and now - self._tried_s >= retry_s:
            self._tried_s = now
            self._open()
        return ports.seen(self._client, self.api) if self._client else ()

    def give_up(self) -> None:
        """Let the client go."""
        CLIENT_HOLDERS.discard(self)
        client, self._client, self._link = self._client, None, None
        ports.drop(client)

    def _open(self) -> None:
        before = open_sockets()
        try:
            self._client = ports.new_client("input", self.api)
        except BadInput:
            return
        self._link = ServerLink(before) if self.api == "jack" else None
        CLIENT_HOLDERS.add(self)


def _system_watches() -> list[_SystemWatch]:
    try:
        return [_SystemWatch(name) for name in ports.apis()]
    except BadInput:  # no driver, or one that was requested and is not there
        return []
