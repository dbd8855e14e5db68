"""Half an hour in real time: the whole program in a terminal, ten strokes a second over JACK.

Another process plays; `trainer play` shows its screen and clicks through a MIDI output. Every tenth
of the time prints the memory of screen and engine, and the session file tells how late clicks went
and how stamps lie to the times of sending, in the first tenth and in the last. Times in ms.

Run: BENCH_MINUTES=30 python -m pytest -s tests/bench/bench_half_hour.py   (default: half a minute)
"""

import os
import signal
import statistics
import time
from pathlib import Path

import pytest
import rtmidi
from terminals import engine_of, finished

pytestmark = [pytest.mark.jack, pytest.mark.bench]

SECONDS = 60 * float(os.environ.get("BENCH_MINUTES", "0.5"))
APART_S = 0.1
TENTHS = 10


def own_mb(pid):
    """Memory in MB that a process has for itself: a JACK client maps 100 MB of its server's."""
    _, resident, shared, *_ = map(int, Path(f"/proc/{pid}/statm").read_text().split())
    return (resident - shared) * os.sysconf("SC_PAGE_SIZE") / 2**20


def _drain_until(ear, second):
    """Take the clicks that arrive: a queue that fills up is a fault of the listener's."""
    while time.monotonic() < second:
        while ear.get_message():
            pass
        time.sleep(0.05)


def test_half_an_hour(sender, terminal, tmp_path):
    """Memory is flat, clicks and stamps are at the end as at the start, and the file reads."""
    ear = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name="Ear")
    ear.open_virtual_port("in")
    kit = sender("Long Kit")
    asked = ("play", "fives-and-threes", "--port", kit.port, "--out", "Ear", "--tempo", "150")
    program = terminal("-m", "trainer", *asked, "--recordings", tmp_path / "kept")
    while not list(tmp_path.glob("kept/*.jsonl")):
        assert program.poll() is None, "the program ended early"
        time.sleep(0.05)
    engine = engine_of(program.pid)
    count = int(SECONDS / APART_S)
    # A note and a velocity of its own for each stroke of any stretch of minutes.
    rows = [(1.0 + k * APART_S, (0x99, 35 + k % 48, 1 + k % 127)) for k in range(count)]
    kit.start(rows)
    began, memory = time.monotonic(), []
    for tenth in range(1, TENTHS + 1):
        _drain_until(ear, began + 2.0 + SECONDS * tenth / TENTHS)
        memory.append((own_mb(program.pid), own_mb(engine)))
        print(f"{time.strftime('%H:%M:%S')} screen {memory[-1][0]:.1f} MB, ", end="", flush=True)
        print(f"engine {memory[-1][1]:.1f} MB, load {os.getloadavg()[0]:.1f}", flush=True)
    sent = kit.sent()
    program.send_signal(signal.SIGTERM)
    began = time.monotonic()
    session = finished(tmp_path / "kept")
    print(f"finished and saved in {time.monotonic() - began:.1f} s")
    ear.delete()

    strikes = sorted((*session.strikes, *session.idle), key=lambda one: one.time_s)
    report(session, strikes, rows, sent)
    assert len(strikes) > 0.9 * count
    assert memory[-1][1] - memory[0][1] < 40
    assert memory[-1][0] - memory[0][0] < 40


def report(session, strikes, rows, sent):
    """Print clicks and stamps of the first and the last tenth."""
    late = [(one.time_s, one.late_s * 1000) for one in session.clicks]
    offs = off_ms(strikes, rows, sent)
    print(f"\n{len(strikes)} of {len(rows)} strokes arrived, {len(late)} clicks")
    for name, found in (("click sent late", late), ("stamp off", offs)):
        tenth = len(found) // TENTHS
        for part, kept in (("first", found[:tenth]), ("last", found[-tenth:])):
            values = sorted(abs(value) for _, value in kept)
            print(f"{name}, {part} tenth: median {statistics.median(values):.3f}, ", end="")
            print(f"p99 {values[int(len(values) * 0.99)]:.3f}, worst {values[-1]:.3f}")


def off_ms(strikes, rows, sent):
    """How far stamps lie from the times of sending once the median way is taken out."""
    at, way = 0, []
    for one in strikes:
        while rows[at][1][1:] != (one.note, one.velocity):
            at += 1
        way.append((one.time_s, (one.time_s - sent[at]) * 1000))
        at += 1
    middle = statistics.median(value for _, value in way)
    return [(time_s, value - middle) for time_s, value in way]
