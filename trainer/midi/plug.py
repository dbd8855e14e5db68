"""A connection to one MIDI port that notices when the port goes away and connects again.

No MIDI system tells of an unplugged device: its port only leaves the list, and sending or reading
goes on without an error and without effect, also after the device is back. So the list is looked at
again and again, through the one client that is open anyway, and the port is known by its name and
position, not by its number. JACK alone tells whether we are still connected (`jack_cable`): there
the list is only looked at once we are not.
"""

from __future__ import annotations

from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.midi import names, ports
from trainer.midi.jack_cable import Cable
from trainer.midi.server_link import HOLDERS, ServerLink, give_up, sockets

if TYPE_CHECKING:
    from collections.abc import Sequence

WATCH_S = 0.5
"""How often the connection is looked at; where only the list of ports tells, a plug pulled and put
back in less goes unnoticed."""

GONE = "is gone"
CUT = "was disconnected"
HELD = "is there but cannot be opened; another program may hold it"


class Plug:
    """One connection; `name` is the port's label, `port` is None before the first connection.

    `kind` is `input` or `output`, seen from here; `end` names our own end of the connection.
    `trouble` says in words what is wrong, from the moment it is noticed until it is mended.
    """

    def __init__(self, kind: str, wanted: str, end: str) -> None:
        self.kind, self.name, self.end = kind, wanted, end
        self.port: names.Port | None = None
        self.trouble = ""
        self.looked_s = 0.0
        self._client: Any = None
        self._link: ServerLink | None = None
        self._cable: Cable | None = None

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
        self._connect(names.pick(found, self.name, self.kind))
        HOLDERS.add(self)

    def receive(self) -> Any:
        """Return the next message and the seconds since the one before, None for no more."""
        return self._client.get_message() if self._client else None

    def send(self, message: Sequence[int]) -> None:
        """Send a message; while there is no connection it is lost."""
        if self._client:
            self._client.send_message(message)

    def watch(self, now_s: float) -> bool:
        """Look at the list when it is time to; return True when the port was connected anew.

        `now_s` is `time.perf_counter()`.
        """
        if now_s - self.looked_s < WATCH_S or self not in HOLDERS:
            return False
        self.looked_s = now_s
        if self._client is None:
            return self._connect_again()
        assert self.port
        if self._link and self._link.broken:
            give_up(self.port.api)
            return False
        stands = self._cable.stands if self._cable else None
        if stands and not self.lost:
            return False
        here = names.same(ports.seen(self._client, self.port.api), self.port)
        if here is None:
            self.trouble = GONE
        elif self.lost or here.name != self.port.name:
            return self._connect_again()
        elif stands is False:
            self.trouble = CUT
        return False

    def give_up(self) -> None:
        """Let the client go, to be made anew once there is a server."""
        self._drop()
        self.trouble = GONE

    def close(self) -> None:
        """Disconnect; closing twice is harmless."""
        HOLDERS.discard(self)
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
            here = names.same(ports.of_kind(self.kind, self.port.api), self.port)
            if here:
                self._connect(here)
        except BadInput:  # no server, or the port is not ready yet; the next look tries again
            self.trouble = HELD if here else GONE
            return False
        return here is not None

    def _connect(self, port: names.Port) -> None:
        jack = port.api == "jack"
        before = sockets() if jack else {}
        client = ports.new_client(self.kind, port.api)
        link = ServerLink(before) if jack else None
        cable = Cable(port.name) if jack else None
        try:
            ports.open_port(client, port, self.end)
        except BadInput:
            if cable:
                cable.close()
            ports.drop(client)
            raise
        if cable:
            cable.connected()
        self._drop()
        self._client, self._link, self._cable = client, link, cable
        self.port, self.name, self.trouble = port, port.label, ""
        self.looked_s = perf_counter()
