"""Measures this machine: how late it wakes, how late a click is sent, how far off stamps are.

The measurements use the engine's own clock and the program's own ports, in the way the engine's
loop uses them. What is sent goes round a loop and comes back in: on Linux and macOS one inside the
MIDI system is made for the purpose, elsewhere a cable and two port names serve.

The terminal's delay is measured with a question (device status report, `ESC [ 6 n`) of the ECMA-48
and DEC standards that all common terminals follow. It waits behind what was written before, so the
answer shows when that was taken in; what the graphics do after it is not seen.

What a player can send back about a machine: versions, MIDI systems, ports, and timing figures.

One JSON document. It names devices, and neither the player nor any file. It says what a machine
that nobody here has (macOS, Windows, a kit) does with the same code.
"""

from __future__ import annotations

import os
import platform
import select
import sys
import time
from dataclasses import dataclass, field
from importlib import metadata
from itertools import pairwise
from random import uniform
from statistics import median
from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer import __version__
from trainer.engine.clock import POLL_S, RealClock, ahead_of_others
from trainer.errors import BadInput
from trainer.midi import port_names, ports
from trainer.midi.keyboard import TerminalKeys
from trainer.midi.ports import quiet_libraries
from trainer.midi.timing import Delays, DriverClock, in_ms, stamp_period_s

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.midi.port_names import Port


_NOTE = (0x99, 37)
_APART_S = (0.015, 0.035)
"""Least and greatest distance of the notes sent, uneven so that no period hides in them."""

_WARM = 20
"""Notes at the start that settle the driver's clock and are not measured."""

_END_NAME = "loop"


def measure_wakes(seconds: float) -> Delays:
    """Return how late this machine wakes the program when it asks to be woken."""
    clock, late = RealClock(), Delays()
    due = clock.now()
    with ahead_of_others():
        while due < seconds:
            due += uniform(*_APART_S)
            while clock.now() < due:
                clock.wait_until(due)
            late.add(clock.now() - due)
    return late


@dataclass(slots=True)
class LoopbackFigures:
    """What notes that were sent round a loop say.

    `late` is how long after they were due they were sent, `off` how far their stamps are from the
    time of sending once the median way (`way_s`) is taken out; `step_s` is the step stamps come in.
    The way is None where nothing came back, and where it is shorter than stamps can show.
    """

    system: str
    late: Delays = field(default_factory=Delays)
    off: Delays = field(default_factory=Delays)
    way_s: float | None = None
    step_s: float = 0.0
    sent: int = 0
    lost: int = 0

    def to_dict(self) -> dict[str, Any]:
        """Return the figures, safe for JSON."""
        return {
            "system": self.system,
            "sent": self.sent,
            "lost": self.lost,
            "sent_late": self.late.to_dict(),
            "stamps_off": self.off.to_dict(),
            "way_ms": in_ms(self.way_s),
            "step_ms": in_ms(self.step_s),
        }


class Loopback:
    """Two ends of a MIDI connection that lead back to us; a context manager.

    Without names the loop is made inside the MIDI system. Raises BadInput where there can be none.
    """

    def __init__(self, out: str = "", back: str = "") -> None:
        self.out, self.back = out, back
        self.api = ""
        self._empty = 0.0

    def __enter__(self) -> Loopback:
        ends = self._ends()
        self._ear = ports.new_client("input", self.api)
        self._mouth = ports.new_client("output", self.api)
        try:
            self._join(*ends)
        except BadInput:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        with quiet_libraries():
            for client in (self._mouth, self._ear):
                client.close_port()
                client.delete()

    def run(self, seconds: float) -> LoopbackFigures:
        """Send notes round for some seconds and return what they say."""
        self._empty = perf_counter()
        figures = LoopbackFigures(self.api)
        clock = DriverClock(repeats=self.api == "core")
        sent: dict[int, float] = {}
        back: dict[int, float] = {}
        with ahead_of_others():
            for key, late in self._send(seconds, sent):
                if late is not None:
                    figures.late.add(late)
                self._hear(clock, key, back)
        _compare(figures, clock, sent, back)
        return figures

    def _ends(self) -> tuple[port_names.Port, ...]:
        """Find the ports that are named, and the MIDI system to measure."""
        system = ports.system()
        self.api = system.api
        if not self.out and not self.back:
            return ()
        back = port_names.pick_port(system.inputs, self.back)
        out = port_names.pick_port(system.outputs, self.out, "output")
        self.api = back.api
        if out.api != back.api:
            raise BadInput(
                f"both ends belong to one MIDI system, not {out.api} and {back.api}",
                where="--out and --port",
                fix=f"start with trainer --system {back.api}",
            )
        return back, out

    def _join(self, *ends: port_names.Port) -> None:
        """Connect both ends."""
        if ends:
            ports.open_port(self._ear, ends[0], _END_NAME)
            ports.open_port(self._mouth, ends[1], _END_NAME)
            return
        faults: tuple[type[Exception], ...] = (*ports.driver_errors(), IndexError)
        try:
            with quiet_libraries():
                self._ear.open_virtual_port(_END_NAME)
                found = self._mouth.get_ports()
                here = [i for i, name in enumerate(found) if port_names.CLIENT in name]
                self._mouth.open_port(here[-1], _END_NAME)
        except faults:
            raise BadInput(
                f"the MIDI system {self.api} has no loop of its own",
                fix="lead a MIDI output back into an input with a cable and name both with "
                "--out and --port",
            ) from None

    def _send(self, seconds: float, sent: dict[int, float]) -> Iterator[tuple[int, float | None]]:
        """Send notes at their due times; yield in every turn, with the lateness of a note sent."""
        clock = RealClock()
        key, due = 0, 0.1
        while clock.now() < seconds + 0.2:
            late = None
            if clock.now() >= due and due < seconds:
                # A system may stamp a message before sending returns, so the way begins here.
                sent[key] = perf_counter()
                self._mouth.send_message((*_NOTE, 1 + key % 127))
                late = perf_counter() - clock.zero_s - due
                key, due = key + 1, due + uniform(*_APART_S)
            yield key, late
            clock.wait_until(due if due < seconds else clock.now() + POLL_S)

    def _hear(self, clock: DriverClock, key: int, back: dict[int, float]) -> None:
        """Stamp what has come round. A velocity means the latest note sent with it."""
        while got := self._ear.get_message():
            stamp = clock.stamp(got[1], perf_counter(), self._empty)
            if tuple(got[0][:2]) == _NOTE:
                back[key - 1 - (key - got[0][2]) % 127] = stamp
        self._empty = perf_counter()


def _compare(
    figures: LoopbackFigures, clock: DriverClock, sent: dict[int, float], back: dict[int, float]
) -> None:
    """Fill in what the times of the notes that came back say."""
    measured = [key for key in sent if key >= _WARM]
    figures.sent = len(measured)
    ways = [back[key] - sent[key] for key in measured if key in back]
    figures.lost = len(measured) - len(ways)
    if ways:
        middle = median(ways)
        figures.off = Delays(abs(way - middle) for way in ways)
        # The driver's clock is known to some microseconds: a way as short as that is not measured.
        figures.way_s = middle if middle > 0 else None
    figures.step_s = max(clock.resolution_s, stamp_period_s(sorted(back.values())))


DELAY_QUESTION = b"\x1b[6n"
_PATIENCE_S = 1.0
_LONGEST_LINE = 80


def terminal_delays(times: int = 50) -> Delays | None:
    """Return how long a changed line takes to be taken in; None without a terminal that answers."""
    if sys.platform == "win32" or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return None
    delays = Delays()
    with TerminalKeys():
        for count in range(times):
            taken = _ask(f"\r\x1b[2K{'.' * (count % _LONGEST_LINE)}".encode())
            if taken is None:
                return None
            delays.add(taken)
        os.write(sys.stdout.fileno(), b"\r\x1b[2K")
    return delays


def _ask(change: bytes) -> float | None:
    """Write a change and return the seconds until the terminal has it, None without an answer."""
    start = perf_counter()
    os.write(sys.stdout.fileno(), change + DELAY_QUESTION)
    answer = b""
    while not answer.endswith(b"R"):
        if not select.select([sys.stdin], [], [], _PATIENCE_S)[0]:
            return None
        answer += os.read(sys.stdin.fileno(), 64)
    return perf_counter() - start


FORMAT = 1
LIBRARIES = ("python-rtmidi", "mido", "textual", "numpy", "sounddevice")
VARIABLES = ("TRAINER_MIDI_API", "JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER", "TERM")
"""Variables that change what the program does with MIDI and the terminal."""

TICKS = 1000


def timing_report(figures: dict[str, Any]) -> dict[str, Any]:
    """Return a report with the figures of `trainer timing`, safe for JSON; times are in ms."""
    return {
        "report": FORMAT,
        "trainer": __version__,
        "machine": _machine(),
        "libraries": {name: _version(name) for name in LIBRARIES},
        "variables": {name: os.environ[name] for name in VARIABLES if name in os.environ},
        "clock": _clock(),
        "midi": _midi(),
        "timing": figures,
    }


def _machine() -> dict[str, Any]:
    return {
        "system": platform.system(),
        "release": platform.release(),
        "processor": platform.machine(),
        "processors": os.cpu_count(),
        "python": platform.python_version(),
        "built_by": platform.python_compiler(),
        "platform": sys.platform,
    }


def _version(library: str) -> str | None:
    try:
        return metadata.version(library)
    except metadata.PackageNotFoundError:
        return None


def _clock() -> dict[str, Any]:
    """How fine the program's clock is, by its own word and as it is seen to step."""
    about = time.get_clock_info("perf_counter")
    seen = sorted({time.perf_counter() for _ in range(TICKS)})
    steps = [b - a for a, b in pairwise(seen)]
    return {
        "implementation": about.implementation,
        "resolution_ms": about.resolution * 1e3,
        "smallest_step_ms": in_ms(min(steps, default=None)),
    }


def _midi() -> dict[str, Any]:
    """The MIDI systems, each with what it lists or why it does not answer."""
    try:
        names = ports.apis()
    except BadInput as fault:
        return {"fault": str(fault)}
    return {name: _system(name) for name in names}


def _system(name: str) -> dict[str, Any]:
    try:
        found = ports.listing(name)
    except BadInput as fault:
        return {"fault": str(fault)}
    return {
        "inputs": [_port(port) for port in found.inputs],
        "outputs": [_port(port) for port in found.outputs],
    }


def _port(port: Port) -> dict[str, Any]:
    return {
        "driver_name": port.name,
        "label": port.label,
        "loop": port.is_loop,
        "socket": port.socket or None,
    }
