"""What a player can send back about a machine: versions, MIDI systems, ports, and timing figures.

One JSON document. It names devices, and neither the player nor any file. It says what a machine
that nobody here has (macOS, Windows, a kit) does with the same code.
"""

from __future__ import annotations

import os
import platform
import sys
import time
from importlib import metadata
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from trainer import __version__
from trainer.errors import BadInput
from trainer.midi import ports
from trainer.midi.timing import in_ms

if TYPE_CHECKING:
    from trainer.midi.port_names import Port

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
