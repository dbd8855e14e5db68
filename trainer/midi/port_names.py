"""Names of MIDI ports, and which port a part of a name means. No device is touched here.

Systems put numbers into names that change from one start to the next: ALSA ends with client and
port (`Kit:Kit MIDI 1 20:0`), Windows with the place in its list (`Kit 1`), the ALSA bridge of JACK
has the client in brackets (`a2j:Kit [20] (capture)`). A port is therefore known by its name without
them and, where several share it, by its position among those.
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
_LOOP_OF_THE_SYSTEM = "midi through"


@dataclass(frozen=True, slots=True)
class Port:
    """One port of another program or device.

    `index` is its place in the driver's list just now, `name` what the driver calls it, `title` the
    name without numbers, `position` counts from 0 among the ports of the same title, and `label` is
    what people see and may write down: the title, with ` #2` and so on where there are several.
    """

    api: str
    index: int
    name: str
    title: str
    position: int
    label: str


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
        if not name.startswith(CLIENT):
            found.append(Port(api, index, name, title, position, label))
    return tuple(found)


def same_port(found: Iterable[Port], known: Port) -> Port | None:
    """Return the port that was `known` before the list changed, or None while it is away."""
    for port in found:
        if (port.title, port.position) == (known.title, known.position):
            return port
    return None


def pick_port(found: Sequence[Port], wanted: str, kind: str = "input") -> Port:
    """Return the one port a name means: exact, else without numbers, else a part in any case.

    An empty name means the only one there is. Raises BadInput, listing what is there, when none or
    several fit.
    """
    fits = fitting_ports(found, wanted)
    if len(fits) == 1:
        return fits[0]
    where = f'MIDI {kind} "{wanted}"' if wanted else f"MIDI {kind}"
    if fits:
        raise BadInput(
            f"{len(fits)} ports fit: {_listed(fits)}", where=where, mend="type more of the name"
        )
    if not found:
        raise BadInput(
            f"no MIDI {kind}s are connected",
            where=where,
            mend=_NOTHING_THERE[kind],
        )
    raise BadInput(
        f"not connected; connected now: {_listed(found)}",
        where=where,
        mend="name one of them, or a part that no other name has",
    )


def fitting_ports(found: Sequence[Port], wanted: str) -> list[Port]:
    """Return the ports that a name may mean: those of the first rule of `pick` that fits any."""
    if not wanted:
        # The loop that ALSA always offers is not a kit.
        return [p for p in found if not p.name.lower().startswith(_LOOP_OF_THE_SYSTEM)]
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
