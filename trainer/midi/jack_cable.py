"""Whether our connection to a port of a JACK server still stands: others may cut it.

RtMidi connects its own client and never looks again: a cable pulled in a patch bay, or a device
unplugged and back within a moment, leaves a port that is in the list and silent for ever. So a
second client, which is never in the audio path, asks the server who is connected to the far port.
It is asked through the library that RtMidi has loaded, whose clients all belong to one server.
"""

from __future__ import annotations

import ctypes
from functools import cache
from time import perf_counter, sleep
from typing import Any

from trainer.midi.names import CLIENT
from trainer.midi.quiet import quiet

SEEN_S = 0.3
"""A connection is seen a period of the server after it was made; longer waits are in vain."""

_MAPS = "/proc/self/maps"
_NO_START = 1
"""JackNoStartServer of jack/types.h."""


class Cable:
    """One connection of ours to the port `far`; made before it is connected, asked afterwards."""

    def __init__(self, far: str) -> None:
        self._far = far.encode()
        self._jack = _library()
        self._client = self._open()
        self._before = self._ends()
        self._ours: set[bytes] = set()

    def connected(self) -> None:
        """Hear that the connection was made just now: the end that is new is ours."""
        patience = perf_counter() + SEEN_S
        while not self._ours and self._client and perf_counter() < patience:
            sleep(0.001)
            self._ours = self._ends() - self._before

    @property
    def stands(self) -> bool | None:
        """True while we are connected, False once we are not, None where it cannot be told."""
        if len(self._ours) != 1:
            return None
        return self._ours <= self._ends()

    @property
    def period_s(self) -> float:
        """How often the server hands messages over, 0 where it cannot be told."""
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
            with quiet():
                self._jack.jack_client_close(client)

    def _open(self) -> int | None:
        if self._jack is None:
            return None
        with quiet():
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
