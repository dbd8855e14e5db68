"""Names of MIDI ports, and which port a part of a name means. No device is touched here.

Systems put numbers into names that change from one start to the next: ALSA ends with client and
port (`Kit:Kit MIDI 1 20:0`), Windows with the place in its list (`Kit 1`), the ALSA bridge of JACK
has the client in brackets (`a2j:Kit [20] (capture)`). A port is therefore known by its name without
them. Where several share it, ALSA and JACK have full names that differ, or by the socket they
are plugged in; other systems only by the place in the list, which moves when one of them goes.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

CLIENT = "midi-kit-trainer"
"""What the program calls itself to the MIDI system; its own ports are never offered."""

_NUMBERS = {
    "alsa": re.compile(r"\s+\d+:\d+$"),
    "winmm": re.compile(r"\s+\d+$"),
    "jack": re.compile(r"\s+\[\d+\]"),
}
_NOTHING_THERE = {
    "input": "switch the kit on, plug it in and check trainer ports, "
    "or play on the computer keys with --port keys",
    "output": "switch the module on, plug it in and check trainer ports, "
    "or use the sound card with --out audio",
}
_LOOPS = re.compile(r"midi through|virmidi|virtual raw midi|\biac\b|loopmidi", re.IGNORECASE)
"""Loops inside ALSA, macOS and Windows: what programs send there comes back, no kit is behind."""

_BRIDGES = ("a2j:", "Midi-Bridge:")
"""JACK clients that show ALSA's ports once more, of a2jmidid and of PipeWire."""

_KNOWN_BY_NAME = ("alsa", "jack")


@dataclass(frozen=True, slots=True)
class Port:
    """One port of another program or device.

    `index` is its place in the driver's list just now, `name` what the driver calls it, `title` the
    name without numbers, `position` counts from 0 among the ports of the same title, `among` says
    how many those are, and `label` is what people see and may write down: the title, with ` #2` and
    so on where there are several. `socket` is where a USB device is plugged in, where it is known.
    """

    api: str
    index: int
    name: str
    title: str
    position: int
    label: str
    among: int = 1
    socket: str = ""

    @property
    def identity(self) -> str:
        """What stays while the device is plugged in: its socket, else its full name."""
        return self.socket or self.name

    @property
    def is_loop(self) -> bool:
        """True for a loop inside the system, which is never taken for a kit."""
        return bool(_LOOPS.search(self.name))


def without_numbers(name: str, api: str) -> str:
    """Return a port's name without the numbers its system puts in."""
    pattern = _NUMBERS.get(api)
    return pattern.sub("", name) if pattern else name


def ports_of_names(names: Sequence[str], api: str) -> tuple[Port, ...]:
    """Return the ports of a driver's list of names, without the program's own."""
    titles = [without_numbers(name, api) for name in names]
    many = Counter(titles)
    seen: Counter[str] = Counter()
    found = []
    for index, (name, title) in enumerate(zip(names, titles, strict=True)):
        position = seen[title]
        seen[title] += 1
        label = f"{title} #{position + 1}" if many[title] > 1 else title
        if CLIENT not in name:
            found.append(Port(api, index, name, title, position, label, many[title]))
    return tuple(found)


def kits(found: Iterable[Port]) -> tuple[Port, ...]:
    """Return the ports that may be a kit: no loops, and none of ALSA twice."""
    ports = [port for port in found if not port.is_loop]
    if any(port.api == "alsa" for port in ports):
        ports = [port for port in ports if not port.name.startswith(_BRIDGES)]
    return tuple(ports)


def input_to_use(here: Sequence[str], current: str, otherwise: str) -> str:
    """Return the kit to play on: the current one while it is there, else the first, else no kit.

    `here` are the labels of the kits that are connected.
    """
    if current in here:
        return current
    return here[0] if here else otherwise


def same_port(
    found: Iterable[Port], known: Port, others: frozenset[str] = frozenset()
) -> Port | None:
    """Return the port that was `known` before the list changed, or None while it is away.

    `others` are the identities of ports that were seen beside it: those are never taken for it. A
    port that comes back with another number, or at another socket, is taken where only one can be
    meant.
    """
    there = alike(found, known)
    if known.api not in _KNOWN_BY_NAME:
        return there[known.position] if len(there) >= known.among else None
    free = [port for port in there if port.identity not in others]
    for port in free:
        if port.identity == known.identity:
            return port
    if len(free) == 1:
        return free[0]
    return there[known.position] if free and len(there) == known.among else None


def one_of_several_left(found: Iterable[Port], known: Port) -> bool:
    """Return True where a port of this name has gone and nobody can know which."""
    return known.api not in _KNOWN_BY_NAME and 0 < len(alike(found, known)) < known.among


def alike(found: Iterable[Port], known: Port) -> list[Port]:
    """Return the ports of the same name, in order."""
    return [port for port in found if (port.api, port.title) == (known.api, known.title)]


def pick_port(found: Sequence[Port], wanted: str, kind: str = "input") -> Port:
    """Return the one port a name means: exact, else without numbers, else a part in any case.

    An empty name means the only one there is. Ports of the first MIDI system come before those of
    the next. Raises BadInput, listing what is there, when none or several fit.
    """
    fits = fitting_ports(found, wanted)
    fits = [port for port in fits if port.api == fits[0].api]
    if len(fits) == 1:
        return fits[0]
    where = f'MIDI {kind} "{wanted}"' if wanted else f"MIDI {kind}"
    if fits:
        raise BadInput(
            f"{len(fits)} ports fit: {_listed(fits)}", where=where, fix="type more of the name"
        )
    here = kits(found)
    if not here:
        raise BadInput(
            f"no MIDI {kind} is connected",
            where=where if wanted else None,
            fix=_NOTHING_THERE[kind],
        )
    raise BadInput(
        f"not connected; connected now: {_listed(here)}",
        where=where,
        fix="name one of them, or a part that no other name has",
    )


def fitting_ports(found: Sequence[Port], wanted: str) -> list[Port]:
    """Return the ports that a name may mean: those of the first rule of `pick` that fits any."""
    if not wanted:
        return list(kits(found))
    part = wanted.casefold()
    rules = (
        lambda port: wanted in (port.name, port.label),
        lambda port: without_numbers(wanted, port.api) == port.title,
        lambda port: part in port.label.casefold() or part in port.name.casefold(),
    )
    for rule in rules:
        fits = [port for port in found if rule(port)]
        if fits:
            return fits
    return []


def _listed(found: Iterable[Port]) -> str:
    return ", ".join(f'"{port.label}"' for port in found)
