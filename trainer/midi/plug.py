"""A connection to one MIDI port that notices when the port goes away and connects again.

No MIDI system tells of an unplugged device: its port only leaves the list, and sending or reading
goes on without an error and without effect, also after the device is back. So the list is looked at
again and again, through the one client that is open anyway, and the port is known by its name and
position, not by its number.
"""

from __future__ import annotations

from time import perf_counter
from typing import Any

from trainer.errors import BadInput
from trainer.midi import names, ports
from trainer.midi.quiet import quiet

WATCH_S = 0.5
"""How often the list of ports is looked at: a plug pulled and put back takes longer."""


class Plug:
    """One connection: `client` is the driver's, None while closed; `name` is the port's label.

    `kind` is `input` or `output`, seen from here; `end` names our own end of the connection.
    """

    def __init__(self, kind: str, wanted: str, end: str) -> None:
        self.kind, self.name, self.end = kind, wanted, end
        self.client: Any = None
        self.port: names.Port | None = None
        self.lost = False
        self.looked_s = 0.0

    def open(self) -> None:
        """Find the port and connect. Raises BadInput when it is not there or held by another."""
        found = ports.inputs() if self.kind == "input" else ports.outputs()
        self._connect(names.pick(found, self.name, self.kind))

    def watch(self, now_s: float) -> bool:
        """Look at the list when it is time to; return True when the port was connected anew.

        `now_s` is `time.perf_counter()`.
        """
        if now_s - self.looked_s < WATCH_S or self.client is None:
            return False
        self.looked_s = now_s
        assert self.port
        here = names.same(ports.seen(self.client, self.port.api), self.port)
        if here is None:
            self.lost = True
        elif self.lost or here.name != self.port.name:
            return self._connect_again(here)
        return False

    def close(self) -> None:
        """Disconnect; closing twice is harmless."""
        client, self.client = self.client, None
        _drop(client)

    def _connect_again(self, port: names.Port) -> bool:
        old = self.client
        try:
            self._connect(port)
        except BadInput:  # seen but not ready yet; the next look tries again
            return False
        _drop(old)
        return True

    def _connect(self, port: names.Port) -> None:
        client = ports.new_client(self.kind, port.api)
        try:
            ports.open_port(client, port, self.end)
        except BadInput:
            _drop(client)
            raise
        self.client, self.port, self.name = client, port, port.label
        self.lost = False
        self.looked_s = perf_counter()


def _drop(client: Any) -> None:
    """Close and free a driver's client."""
    if client is not None:
        with quiet():
            client.close_port()
            client.delete()
