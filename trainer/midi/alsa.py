"""ALSA's sequencer: who is connected to whom, where a device is plugged in, and who may use it.

RtMidi connects its own client and never looks again, so a connection that another program cuts, or
a kit unplugged and back within a moment, leaves a port that is in the list and silent for ever. The
kernel lists every connection in a file of text, read here in some 0.3 ms (`AlsaCable`).

Numbers of sound cards go to whatever is plugged in next. A USB socket keeps its path, which keeps
two kits of one model apart (`socket_of`).
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, field

from trainer.midi.port_names import CLIENT

SEQUENCER = "/dev/snd/seq"
CLIENTS = "/proc/asound/seq/clients"
CARDS = "/sys/class/sound"

Address = tuple[int, int]
"""A client's number and its port's."""

_CLIENT = re.compile(r'Client\s+(\d+) : "(.*)" \[')
_PORT = re.compile(r'  Port\s+(\d+) : "(.*)" \(')
_ENDS = re.compile(r"\s+(?:Connecting To|Connected From): (.*)")
_ADDRESS = re.compile(r"(\d+):(\d+)")
_FIRST_OF_CARDS, _PER_CARD, _FIRST_OF_PROGRAMS = 16, 4, 128
"""Clients 16 to 127 belong to sound cards, four to each (sound/core/seq of the Linux kernel)."""


@dataclass(frozen=True, slots=True)
class SeqPort:
    """One port of the sequencer; `ends` are the ports it is connected to, in either direction."""

    address: Address
    client: str
    name: str
    ends: frozenset[Address] = field(default_factory=frozenset)


def parse_clients(text: str) -> tuple[SeqPort, ...]:
    """Return the ports that the text of `/proc/asound/seq/clients` lists; other lines are ignored.

    A port that is connected to one other in both directions has it once.
    """
    found: list[SeqPort] = []
    client, name = -1, ""
    for line in text.splitlines():
        if of_client := _CLIENT.match(line):
            client, name = int(of_client[1]), of_client[2]
        elif of_port := _PORT.match(line):
            found.append(SeqPort((client, int(of_port[1])), name, of_port[2]))
        elif (ends := _ENDS.match(line)) and found:
            one = found[-1]
            more = {(int(a), int(b)) for a, b in _ADDRESS.findall(ends[1])}
            found[-1] = SeqPort(one.address, one.client, one.name, one.ends | more)
    return tuple(found)


def read_clients() -> tuple[SeqPort, ...]:
    """Return the ports of the sequencer now; none where the kernel does not list them."""
    try:
        with open(CLIENTS, encoding="utf-8", errors="replace") as listed:
            return parse_clients(listed.read())
    except OSError:
        return ()


def address_of(port_name: str) -> Address | None:
    """Return the numbers at the end of a driver's name for a port."""
    found = re.search(r"(\d+):(\d+)$", port_name)
    return (int(found[1]), int(found[2])) if found else None


def own_ends(listed: tuple[SeqPort, ...], name: str) -> dict[Address, frozenset[Address]]:
    """Return this program's ports of one name, and what each is connected to."""
    return {one.address: one.ends for one in listed if (one.client, one.name) == (CLIENT, name)}


def socket_of(port_name: str) -> str:
    """Return the path of the socket a device is plugged in, with the device's port; else nothing.

    Programs, and cards that cannot be unplugged, have no such path.
    """
    address = address_of(port_name)
    if not address or not _FIRST_OF_CARDS <= address[0] < _FIRST_OF_PROGRAMS:
        return ""
    card, device = divmod(address[0] - _FIRST_OF_CARDS, _PER_CARD)
    path, sound, _ = os.path.realpath(f"{CARDS}/card{card}").partition("/sound/")
    return f"{path}#{device}:{address[1]}" if sound and "/usb" in path else ""


def may_not_use() -> bool:
    """Return True where the sequencer is there but not for this user."""
    return os.path.exists(SEQUENCER) and not os.access(SEQUENCER, os.R_OK | os.W_OK)


def group_to_join() -> str:
    """Return the group that may use the sequencer; most systems call it audio."""
    try:
        import grp

        name = grp.getgrgid(os.stat(SEQUENCER).st_gid).gr_name
    except (ImportError, OSError, KeyError):
        return "audio"
    return "audio" if name == "root" else name


class AlsaCable:
    """One connection of ours to a port; created before the client that connects."""

    period_s = 0.0

    def __init__(self, port_name: str, own_name: str) -> None:
        self._far, self._own_name = address_of(port_name), own_name
        self._before = frozenset(own_ends(read_clients(), own_name))
        self._own: Address | None = None

    def find(self) -> bool:
        """Find our end of the connection made just now; False where it leads to another port.

        True also where it cannot be found: a kernel without the list, or two programs of ours that
        connect in the same moment.
        """
        ends = own_ends(read_clients(), self._own_name)
        new = [address for address in ends if address not in self._before]
        if len(new) != 1:
            return True
        self._own = new[0]
        return self._far in ends[self._own]

    @property
    def intact(self) -> bool | None:
        """True while we are connected, False once we are not, None where it is not known."""
        if self._own is None or not (listed := read_clients()):
            return None
        return self._far in own_ends(listed, self._own_name).get(self._own, ())

    def close(self) -> None:
        """Nothing to let go."""
