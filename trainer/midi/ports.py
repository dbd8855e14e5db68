"""The MIDI system of this machine: which one answers, what it has, and opening clients of it.

`TRAINER_MIDI_API` names the system (alsa, jack, coremidi, windows); without it the first one that
works is taken, before others one that has any ports.
"""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.midi import names
from trainer.midi.quiet import quiet

if TYPE_CHECKING:
    from collections.abc import Iterator

QUEUE = 65536
"""Messages the driver's queue holds: minutes of playing, because a full queue loses hits."""

_COMMON_NAMES = {"coremidi": "core", "macosx": "core", "windows": "winmm", "windows_mm": "winmm"}
_KEYS_INSTEAD = "play on the computer keys with --port keys"
_NO_SYSTEM = {
    "linux": "is the snd-seq module loaded (modprobe snd-seq), or JACK running?",
    "win32": "start the Windows MIDI service and try again",
    "darwin": "open Audio MIDI Setup once, or restart the machine",
}


@dataclass(frozen=True, slots=True)
class System:
    """A MIDI system that works, by name, and the ports it has."""

    api: str
    inputs: tuple[names.Port, ...]
    outputs: tuple[names.Port, ...]


def driver_errors() -> tuple[type[Exception], ...]:
    """Return what the driver may raise at any call."""
    return (_rtmidi().RtMidiError, OSError, ValueError, RuntimeError)


def apis() -> tuple[str, ...]:
    """Return the names of the MIDI systems the driver was built with, first choice first.

    Raises BadInput when `TRAINER_MIDI_API` asks for one it was not built with.
    """
    rtmidi = _rtmidi()
    built = tuple(rtmidi.get_api_name(api) for api in rtmidi.get_compiled_api())
    asked = os.environ.get("TRAINER_MIDI_API", "").strip().lower()
    if not asked:
        return built
    name = _COMMON_NAMES.get(asked, asked)
    if name not in built:
        raise BadInput(
            f'the MIDI driver here has no "{asked}"',
            where="TRAINER_MIDI_API",
            mend=f"choose one of {', '.join(built)}",
        )
    return (name,)


def system() -> System:
    """Return the MIDI system to use: the first that has ports, else the first that works.

    Raises BadInput, in the words of each, when none answers.
    """
    works, faults = [], []
    for name in apis():
        try:
            found = listing(name)
        except BadInput as fault:
            faults.append(f"{name}: {fault.what}")
            continue
        if found.inputs or found.outputs:
            return found
        works.append(found)
    if works:
        return works[0]
    raise BadInput(
        f"no MIDI system answers ({'; '.join(faults)})",
        mend=f"{_NO_SYSTEM.get(sys.platform, 'check the MIDI driver')} Or {_KEYS_INSTEAD}",
    )


def listing(name: str) -> System:
    """Return one MIDI system with its ports as they are now."""
    return System(name, of_kind("input", name), of_kind("output", name))


def of_kind(kind: str, name: str) -> tuple[names.Port, ...]:
    """Return the inputs or the outputs of one MIDI system."""
    with _client(kind, name) as client:
        return names.ports(client.get_ports(), name)


def inputs() -> tuple[names.Port, ...]:
    """Return the ports that strokes can come from."""
    return system().inputs


def outputs() -> tuple[names.Port, ...]:
    """Return the ports that a click can go to."""
    return system().outputs


def new_client(kind: str, name: str) -> Any:
    """Return an unconnected rtmidi client, `input` or `output`, of a MIDI system.

    An input keeps every kind of message: on JACK what is filtered swallows driver time.
    """
    rtmidi = _rtmidi()
    number = {rtmidi.get_api_name(api): api for api in rtmidi.get_compiled_api()}[name]
    try:
        with quiet():
            if kind == "output":
                return rtmidi.MidiOut(number, name=names.CLIENT)
            client = rtmidi.MidiIn(number, name=names.CLIENT, queue_size_limit=QUEUE)
    except driver_errors() as fault:
        raise BadInput(_said(fault), where=f"MIDI system {name}") from None
    client.ignore_types(sysex=False, timing=False, active_sense=False)
    return client


def open_port(client: Any, port: names.Port, own_name: str) -> None:
    """Connect a client to a port. Raises BadInput when the port is held or has just gone."""
    try:
        with quiet():
            client.open_port(port.index, own_name)
    except driver_errors() as fault:
        mend = "plug it in again and look with trainer ports"
        if port.api == "winmm":
            mend = "close the other program that holds it: Windows lends a port to one program"
        raise BadInput(
            f"it cannot be opened ({_said(fault)})", where=f'MIDI port "{port.label}"', mend=mend
        ) from None


def seen(client: Any, name: str) -> tuple[names.Port, ...]:
    """Return the ports a client of a MIDI system sees now; none where the driver fails."""
    try:
        with quiet():
            return names.ports(client.get_ports(), name)
    except driver_errors():
        return ()


def drop(client: Any) -> None:
    """Close and free a client; None is none."""
    if client is not None:
        with quiet():
            client.close_port()
            client.delete()


@contextmanager
def _client(kind: str, name: str) -> Iterator[Any]:
    """An rtmidi client for a moment."""
    client = new_client(kind, name)
    try:
        with quiet():
            yield client
    finally:
        with quiet():
            client.delete()


def _said(fault: Exception) -> str:
    """A driver's message without the name of the C++ function in front and the stop behind."""
    return str(fault).rpartition("::")[2].partition(": ")[2].strip(" .?") or type(fault).__name__


def _rtmidi() -> Any:
    try:
        import rtmidi
    except ImportError as fault:
        raise BadInput(
            f"MIDI needs the package python-rtmidi, which does not load here ({fault})",
            mend=f"pip install python-rtmidi, or {_KEYS_INSTEAD}",
        ) from None
    return rtmidi
