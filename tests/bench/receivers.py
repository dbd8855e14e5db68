"""Receivers for bench_stamps, each a process of its own: `receivers.py KIND PORT SECONDS FILE`.

bare    a callback that reads the clock, and nothing else in the process
source  the program's own MidiSource, polled as the engine polls it
screen  the same callback in a process that draws a grid of 16 x 64 cells 60 times a second

Makes the file when it listens, and at its end writes JSON to it: rows of [note, velocity, time],
and for `source` the driver's raw rows.
"""

import json
import sys
import time
from pathlib import Path

import rtmidi

from trainer.midi import port_names, ports
from trainer.midi.kit_input import MidiSource
from trainer.midi.timing import DriverClock

Rows = list[list[float]]


def bare(port: str, seconds: float) -> dict[str, Rows]:
    """Stamp in the driver's callback, with the main thread asleep."""
    rows, client = _callback(port)
    _ready()
    time.sleep(seconds)
    client.delete()
    return {"rows": rows}


def source(port: str, seconds: float) -> dict[str, Rows]:
    """Poll the program's source each millisecond; keep what the driver reported of each note."""
    ear, clock = MidiSource(port), _RecordingClock()
    ear._plug.clock = clock
    ear.open(0.0)
    _ready()
    rows: Rows = []
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        rows += [[hit.note, hit.velocity, hit.time_s] for hit in ear.poll(0.0)]
        time.sleep(0.001)
    ear.close()
    raw = [[*reported, *row[:2]] for reported, row in zip(clock.raw, rows, strict=True)]
    return {"rows": rows, "raw": raw}


def screen(port: str, seconds: float) -> dict[str, Rows]:
    """Stamp in the callback while a Textual app redraws its whole grid."""
    from busy_screen import BusyScreen

    rows, client = _callback(port)
    _ready()
    app = BusyScreen(seconds)
    app.run()
    client.delete()
    return {"rows": rows, "frames": app.frame}


class _RecordingClock(DriverClock):
    """A clock that keeps what the driver reported: difference, reading, queue last empty."""

    def __init__(self) -> None:
        super().__init__()
        self.raw: Rows = []

    def stamp(self, *reported: float) -> float:
        """Keep what was reported, and stamp."""
        self.raw.append([*reported])
        return super().stamp(*reported)


def _callback(port: str) -> tuple[Rows, rtmidi.MidiIn]:
    rows: Rows = []
    client = ports.new_client("input", "jack")
    found = port_names.pick_port(ports.listing("jack").inputs, port)
    client.set_callback(lambda got, _: rows.append([got[0][1], got[0][2], time.perf_counter()]))
    ports.open_port(client, found, "bench")
    return rows, client


def _ready() -> None:
    Path(sys.argv[4]).touch()


def main() -> None:
    """Run the receiver the command line names."""
    kind, port, seconds, path = sys.argv[1:]
    found = {"bare": bare, "source": source, "screen": screen}[kind](port, float(seconds))
    Path(path).write_text(json.dumps(found))


if __name__ == "__main__":
    main()
