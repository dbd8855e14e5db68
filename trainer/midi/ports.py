"""The MIDI system of this machine: which one answers, its ports, and opening clients of it.

`TRAINER_MIDI_API` names the system (alsa, jack, coremidi, windows); without it the first one that
works is used, and one that has ports comes before one that has none.

The ALSA and JACK libraries write to standard error, past Python, whenever something is missing.
Their messages reach us as exceptions anyway, so they are kept off the screen: for one call
(`quiet_libraries`), for the rest of a process (`silence_libraries`), or while a screen is drawn on
standard error (`separate_stderr`).
"""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.midi import port_names

if TYPE_CHECKING:
    from collections.abc import Iterator


def silence_libraries() -> None:
    """For the rest of this process let only Python itself write to standard error.

    The JACK library has threads of its own that complain whenever the server goes away.
    """
    try:
        sys.stderr = os.fdopen(os.dup(2), "w", buffering=1)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)
    except OSError:  # a program without a standard error has nothing to tear
        return


@contextmanager
def quiet_libraries() -> Iterator[None]:
    """Send whatever is written to file descriptor 2 meanwhile to nowhere."""
    try:
        kept = os.dup(2)
    except OSError:  # a program without a standard error has nothing to tear
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


@contextmanager
def separate_stderr() -> Iterator[None]:
    """Give Python's standard error a descriptor of its own meanwhile, and file descriptor 2 none.

    A screen that is drawn there then neither shows what libraries write nor loses what is drawn
    while `quiet` holds, whichever thread looks for ports.
    """
    try:
        kept, own = os.dup(2), os.fdopen(os.dup(2), "w", buffering=1, encoding="utf-8")
        nowhere = os.open(os.devnull, os.O_WRONLY)
    except OSError:  # a program without a standard error has nothing to tear
        yield
        return
    before = sys.stderr, sys.__stderr__
    sys.stderr = own
    sys.__stderr__ = own  # type: ignore[misc]
    os.dup2(nowhere, 2)
    os.close(nowhere)
    try:
        yield
    finally:
        own.flush()
        os.dup2(kept, 2)
        os.close(kept)
        sys.stderr = before[0]
        sys.__stderr__ = before[1]  # type: ignore[misc]
        own.close()


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
    inputs: tuple[port_names.Port, ...]
    outputs: tuple[port_names.Port, ...]


def driver_errors() -> tuple[type[Exception], ...]:
    """Return what the driver may raise at any call."""
    return (_rtmidi().RtMidiError, OSError, ValueError, RuntimeError)


def apis() -> tuple[str, ...]:
    """Return the names of the MIDI systems the driver was built with, first choice first.

    Raises BadInput when `TRAINER_MIDI_API` requests one it was not built with.
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


def of_kind(kind: str, name: str) -> tuple[port_names.Port, ...]:
    """Return the inputs or the outputs of one MIDI system."""
    with _client(kind, name) as client:
        return port_names.ports_of_names(client.get_ports(), name)


def inputs() -> tuple[port_names.Port, ...]:
    """Return the ports that strokes can come from."""
    return system().inputs


def outputs() -> tuple[port_names.Port, ...]:
    """Return the ports that a click can go to."""
    return system().outputs


def new_client(kind: str, name: str) -> Any:
    """Return an unconnected rtmidi client, `input` or `output`, of a MIDI system.

    An input keeps every kind of message: on JACK what is filtered swallows driver time.
    """
    rtmidi = _rtmidi()
    number = {rtmidi.get_api_name(api): api for api in rtmidi.get_compiled_api()}[name]
    try:
        with quiet_libraries():
            if kind == "output":
                return rtmidi.MidiOut(number, name=port_names.CLIENT)
            client = rtmidi.MidiIn(number, name=port_names.CLIENT, queue_size_limit=QUEUE)
    except driver_errors() as fault:
        raise BadInput(_said(fault), where=f"MIDI system {name}") from None
    client.ignore_types(sysex=False, timing=False, active_sense=False)
    return client


def open_port(client: Any, port: port_names.Port, own_name: str) -> None:
    """Connect a client to a port. Raises BadInput when the port is held or has just gone."""
    try:
        with quiet_libraries():
            client.open_port(port.index, own_name)
    except driver_errors() as fault:
        mend = "plug it in again and check trainer ports"
        if port.api == "winmm":
            mend = "close the other program that has it open: on Windows only one can"
        raise BadInput(
            f"it cannot be opened ({_said(fault)})", where=f'MIDI port "{port.label}"', mend=mend
        ) from None


def seen(client: Any, name: str) -> tuple[port_names.Port, ...]:
    """Return the ports a client of a MIDI system sees now; none where the driver fails."""
    try:
        with quiet_libraries():
            return port_names.ports_of_names(client.get_ports(), name)
    except driver_errors():
        return ()


def drop(client: Any) -> None:
    """Close and free a client; None is none."""
    if client is not None:
        with quiet_libraries():
            client.close_port()
            client.delete()


@contextmanager
def _client(kind: str, name: str) -> Iterator[Any]:
    """An rtmidi client for a moment."""
    client = new_client(kind, name)
    try:
        with quiet_libraries():
            yield client
    finally:
        with quiet_libraries():
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
