"""The MIDI systems of this machine: which of them answer, their ports, and opening clients.

Ports of all systems that answer are listed, those of the first before those of the next, and the
port that is opened decides which system is used. `TRAINER_MIDI_API` (the option `--system`, the
setting `system`) names one, and then there are no others: alsa, jack, coremidi or windows.

The ALSA and JACK libraries write to standard error, past Python, whenever something is missing.
Their messages reach us as exceptions anyway, so they are kept off the screen: for one call
(`quiet_libraries`), for the rest of a process (`silence_libraries`), or while a screen is drawn on
standard error (`separate_stderr`).
"""

from __future__ import annotations

import os
import sys
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.midi import alsa, port_names

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
    """The ports of the MIDI systems that answer.

    `api` is the first of them that has ports, `apis` are all; `refused` says in words which of them
    would be there but may not be used.
    """

    api: str
    inputs: tuple[port_names.Port, ...]
    outputs: tuple[port_names.Port, ...]
    apis: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()


def driver_errors() -> tuple[type[Exception], ...]:
    """Return what the driver may raise at any call."""
    return (_rtmidi().RtMidiError, OSError, ValueError, RuntimeError)


def apis() -> tuple[str, ...]:
    """Return the names of the MIDI systems the driver was built with, first choice first.

    Raises BadInput when `TRAINER_MIDI_API` names one it was not built with.
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
            where="MIDI system",
            fix=f"choose one of {', '.join(built)}",
        )
    return (name,)


def system() -> System:
    """Return the ports of every MIDI system that answers.

    Raises BadInput, in the words of each, when none does.
    """
    found, faults = [], dict[str, BadInput]()
    for name in apis():
        try:
            found.append(listing(name))
        except BadInput as fault:
            faults[name] = fault
    if not found:
        raise _none_answers(faults)
    return System(
        next((one.api for one in found if one.inputs or one.outputs), found[0].api),
        tuple(port for one in found for port in one.inputs),
        tuple(port for one in found for port in one.outputs),
        tuple(one.api for one in found),
        tuple(str(fault) for fault in faults.values() if fault.fix),
    )


def _none_answers(faults: dict[str, BadInput]) -> BadInput:
    """Return the fault of a machine without MIDI; one that can be fixed is the one to name."""
    for fault in faults.values():
        if fault.fix:
            return fault
    reported = "; ".join(f"{name}: {fault.what}" for name, fault in faults.items())
    fix = _NO_SYSTEM.get(sys.platform, "check the MIDI driver")
    return BadInput(f"no MIDI system answers ({reported})", fix=f"{fix} Or {_KEYS_INSTEAD}")


def listing(name: str) -> System:
    """Return one MIDI system with its ports as they are now."""
    return System(name, of_kind("input", name), of_kind("output", name), (name,))


def of_kind(kind: str, name: str) -> tuple[port_names.Port, ...]:
    """Return the inputs or the outputs of one MIDI system."""
    with _client(kind, name) as client:
        return _ports_of(client, name)


def _ports_of(client: Any, name: str) -> tuple[port_names.Port, ...]:
    """The ports that a client of a MIDI system sees; raises what the driver raises."""
    found = port_names.ports_of_names(client.get_ports(), name)
    if name != "alsa":
        return found
    return tuple(replace(port, socket=alsa.socket_of(port.name)) for port in found)


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
        raise _no_client(name, fault) from None
    client.ignore_types(sysex=False, timing=False, active_sense=False)
    return client


def _no_client(name: str, fault: Exception) -> BadInput:
    """Return why a MIDI system gives no client."""
    where = f"MIDI system {name}"
    if name == "alsa" and alsa.may_not_use():
        return BadInput(
            f"this user may not open {alsa.SEQUENCER}",
            where=where,
            fix=f"join the group {alsa.group_to_join()} (sudo usermod -aG "
            f"{alsa.group_to_join()} $USER), then log out and in again",
        )
    return BadInput(_said(fault), where=where)


def open_port(client: Any, port: port_names.Port, own_name: str) -> None:
    """Connect a client to a port. Raises BadInput when the port is held or has just gone.

    The driver opens by place in its list, and the list may have changed since: so the place is
    looked up just before, and again afterwards.
    """
    for _ in range(TRIES):
        place = _place_now(client, port)
        try:
            with quiet_libraries():
                client.open_port(place, own_name)
        except driver_errors() as fault:
            raise _not_opened(client, port, fault) from None
        if _place_now(client, port) == place:
            return
        with quiet_libraries():
            client.close_port()
    raise BadInput(
        "the list of ports changes all the time",
        where=f'MIDI port "{port.label}"',
        fix="check its plug and cable",
    )


TRIES = 3


def _place_now(client: Any, port: port_names.Port) -> int:
    """Where the port is in the driver's list now: among several of one full name the same one."""
    try:
        with quiet_libraries():
            names = client.get_ports()
    except driver_errors():
        names = []
    places = [place for place, name in enumerate(names) if name == port.name]
    if not places:
        raise BadInput("it is gone", where=f'MIDI port "{port.label}"', fix=_LOOK_AGAIN)
    return places[min(port.position, len(places) - 1)]


_LENT_TO_ONE = ("alsa", "winmm")
"""Systems where a program may keep a device for itself: here the raw device, on Windows any."""

_HELD = "close the other program that uses it"
_LOOK_AGAIN = "plug it in again and look with trainer ports"


def _not_opened(client: Any, port: port_names.Port, fault: Exception) -> BadInput:
    """Return why a port does not open: it is held by another program, or has just gone."""
    where, what = f'MIDI port "{port.label}"', f"it cannot be opened ({_said(fault)})"
    here = any(one.name == port.name for one in seen(client, port.api))
    held = here and port.api in _LENT_TO_ONE
    return BadInput(what, where=where, fix=_HELD if held else _LOOK_AGAIN)


def seen(client: Any, name: str) -> tuple[port_names.Port, ...]:
    """Return the ports a client of a MIDI system sees now; none where the driver fails."""
    try:
        with quiet_libraries():
            return _ports_of(client, name)
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
            fix=f"pip install python-rtmidi, or {_KEYS_INSTEAD}",
        ) from None
    return rtmidi
