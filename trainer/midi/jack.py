"""JACK: whether the server still runs, and whether our connection to a port still exists.

A JACK server that ends leaves its clients the last list of ports for ever, and every call continues
without an error. Asking through a new client would show it, but after a failed try the JACK
library crashes when the old clients are closed. The sockets between client and server hang up at
once, so those are watched (`ServerLink`). A new client of this process would still belong to the
old server while any old one is open: whoever holds clients is in `CLIENT_HOLDERS`, and all of them
are dropped together.

Others may cut a connection: RtMidi connects its own client and never looks again, so a cable
pulled in a patch bay, or a device unplugged and back within a moment, leaves a port that is in the
list and silent for ever. A second client, which is never in the audio path, asks the server who is
connected to the far port (`JackCable`). It asks through the library that RtMidi has loaded, whose
clients all belong to one server.
"""

from __future__ import annotations

import ctypes
import os
import select
import stat
from contextlib import suppress
from functools import cache
from time import perf_counter, sleep
from typing import Any, Protocol
from weakref import WeakSet

from trainer.midi.port_names import CLIENT
from trainer.midi.ports import quiet_libraries

Sockets = dict[int, tuple[int, int]]


def open_sockets() -> Sockets:
    """Return the sockets this process has open: descriptor and what it means."""
    found: Sockets = {}
    for name in _descriptors():
        try:
            about = os.fstat(int(name))
        except OSError:  # the one that listed the folder
            continue
        if stat.S_ISSOCK(about.st_mode):
            found[int(name)] = (about.st_dev, about.st_ino)
    return found


def _descriptors() -> list[str]:
    """The numbers of what this process has open; none where the system does not list them."""
    for folder in ("/dev/fd", "/proc/self/fd"):
        with suppress(OSError):
            return os.listdir(folder)
    return []


class ServerLink:
    """The sockets that came with a client; `before` are those that were open before it."""

    def __init__(self, before: Sockets) -> None:
        new = {fd: known for fd, known in open_sockets().items() if before.get(fd) != known}
        self._sockets = {fd: known for fd, known in new.items() if not _hung_up(fd, known)}

    @property
    def broken(self) -> bool:
        """True once the server has gone; a client without sockets never shows."""
        return any(_hung_up(fd, known) for fd, known in self._sockets.items())


def _hung_up(fd: int, known: tuple[int, int]) -> bool:
    try:
        about = os.fstat(fd)
    except OSError:
        return True
    watch = select.poll()
    watch.register(fd, 0)
    return (about.st_dev, about.st_ino) != known or bool(watch.poll(0))


class ClientHolder(Protocol):
    """Somebody who holds clients of one MIDI system."""

    @property
    def api(self) -> str:
        """The MIDI system."""
        ...

    def give_up(self) -> None:
        """Let the clients go, to be made again once there is a server."""
        ...


CLIENT_HOLDERS: WeakSet[ClientHolder] = WeakSet()
"""All of this process that hold clients now."""


def drop_clients(api: str) -> None:
    """Let all clients of a MIDI system go."""
    for holder in list(CLIENT_HOLDERS):
        if holder.api == api:
            holder.give_up()


CONNECTION_SEEN_S = 0.3
"""A connection is seen a period of the server after it was made; longer waits are in vain."""

_MAPS = "/proc/self/maps"
_NO_START = 1
"""JackNoStartServer of jack/types.h."""


class JackCable:
    """One connection of ours to the port `far`; made before it is connected, asked afterwards."""

    def __init__(self, far: str) -> None:
        self._far = far.encode()
        self._jack = _library()
        self._client = self._open()
        self._before = self._ends()
        self._ours: set[bytes] = set()

    def find(self) -> bool:
        """Find our end of the connection made just now: the one that is new. Always True."""
        patience = perf_counter() + CONNECTION_SEEN_S
        while not self._ours and self._client and perf_counter() < patience:
            sleep(0.001)
            self._ours = self._ends() - self._before
        return True

    @property
    def intact(self) -> bool | None:
        """True while we are connected, False once we are not, None where it is not known."""
        if len(self._ours) != 1:
            return None
        return self._ours <= self._ends()

    @property
    def period_s(self) -> float:
        """How often the server hands messages over, 0 where it is not known."""
        if not self._client:
            return 0.0
        rate: int = self._jack.jack_get_sample_rate(self._client)
        frames: int = self._jack.jack_get_buffer_size(self._client)
        return frames / rate if rate else 0.0

    def close(self) -> None:
        """Let the client go; closing twice is harmless."""
        client, self._client = self._client, None
        self._ours = set()
        if client:
            with quiet_libraries():
                self._jack.jack_client_close(client)

    def _open(self) -> int | None:
        if self._jack is None:
            return None
        with quiet_libraries():
            client: int | None = self._jack.jack_client_open(
                f"{CLIENT}-look".encode(), _NO_START, None
            )
        return client

    def _ends(self) -> set[bytes]:
        """The ports the far one is connected to now."""
        port = self._jack.jack_port_by_name(self._client, self._far) if self._client else None
        if not port:
            return set()
        found = self._jack.jack_port_get_all_connections(self._client, port)
        if not found:
            return set()
        ends: set[bytes] = set()
        while (end := found[len(ends)]) is not None:
            ends.add(end)
        self._jack.jack_free(found)
        return ends


@cache
def _library() -> Any:
    """The JACK library of this process, None where it is not known."""
    try:
        with open(_MAPS) as maps:
            paths = {line.split(maxsplit=5)[-1].strip() for line in maps if "libjack" in line}
        jack: Any = ctypes.CDLL(min(paths))
        for name, result, given in _CALLS:
            call = getattr(jack, name)
            call.restype, call.argtypes = result, given
    except (OSError, ValueError, AttributeError):
        return None
    return jack


_CALLS: tuple[tuple[str, Any, list[Any]], ...] = (
    ("jack_client_open", ctypes.c_void_p, [ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p]),
    ("jack_client_close", ctypes.c_int, [ctypes.c_void_p]),
    ("jack_port_by_name", ctypes.c_void_p, [ctypes.c_void_p, ctypes.c_char_p]),
    (
        "jack_port_get_all_connections",
        ctypes.POINTER(ctypes.c_char_p),
        [ctypes.c_void_p, ctypes.c_void_p],
    ),
    ("jack_get_sample_rate", ctypes.c_uint32, [ctypes.c_void_p]),
    ("jack_get_buffer_size", ctypes.c_uint32, [ctypes.c_void_p]),
    ("jack_free", None, [ctypes.c_void_p]),
)
"""Name, result and arguments of each call, as jack/jack.h declares them."""
