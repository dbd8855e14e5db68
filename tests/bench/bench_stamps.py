"""How far stamps are off the sender's time, and what is lost: three receivers in one run.

Another process sends strokes over JACK, 20 a second, one in five a unison of two notes back to
back. A bare receiver, the program's own source and a receiver inside a busy screen all listen to
it at once. Errors are taken from their median, in ms.

Run: python -m pytest -s tests/bench/bench_stamps.py   (BENCH_STROKES=1200 for a longer run)
"""

import json
import os
import time
from itertools import pairwise

import pytest

from trainer.midi.driver_clock import HitClock

pytestmark = [pytest.mark.jack, pytest.mark.bench]

STROKES = int(os.environ.get("BENCH_STROKES", "400"))
STEP_S = 0.05
WARM = 20


class Receiver:
    """A receiving process in a terminal of its own."""

    def __init__(self, terminal, kind, port, seconds, folder):
        self.kind, self.file = kind, folder / f"{kind}.json"
        self.process = terminal("receivers.py", kind, port, seconds, self.file)
        while not self.file.exists():
            assert self.process.poll() is None, f"the receiver {kind} ended early"
            time.sleep(0.02)

    def result(self):
        """Wait for the end and return what was received."""
        self.process.wait(120)
        return json.loads(self.file.read_text())


def written():
    """The rows to send, each note told apart by its number and velocity, and the unison firsts."""
    rows, firsts = [], []
    for stroke in range(STROKES):
        at = 0.5 + stroke * STEP_S
        if stroke % 5 == 0:
            firsts.append(len(rows))
        for _ in range(2 if stroke % 5 == 0 else 1):
            count = len(rows)
            rows.append((at, (0x99, 30 + count // 127, 1 + count % 127)))
    return rows, firsts


def by_index(rows):
    """Received times by the number of the note sent."""
    return {int((note - 30) * 127 + velocity - 1): at for note, velocity, at in rows}


def figures(received, sent, firsts):
    """Median, 99th percentile and worst error, the unisons' 99th percentile, and notes lost."""
    lags = {i: received[i] - sent[i] for i in received if i >= WARM}
    middle = sorted(lags.values())[len(lags) // 2]
    errors = sorted(abs(lag - middle) * 1e3 for lag in lags.values())
    gaps = sorted(abs(lags[i + 1] - lags[i]) * 1e3 for i in firsts if i in lags and i + 1 in lags)
    lost = len([i for i in range(WARM, len(sent)) if i not in received])
    return [part(errors, 0.5), part(errors, 0.99), errors[-1], part(gaps, 0.99), lost]


def part(values, share):
    """The value that a share of the sorted values stay within."""
    return values[min(len(values) - 1, int(share * len(values)))]


def with_fault(raw):
    """Stamp the driver's own rows again, each packet repeating its difference as macOS does."""
    clock, rows, told = HitClock(repeats=True), [], 0.0
    for (_, before, *_), (delta, read, empty, note, velocity) in pairwise([[0.0, 0.0], *raw]):
        packet = read - before < 0.001 and delta < 0.000_5
        told = told if packet else delta
        rows.append([note, velocity, clock.stamp(told, read, empty)])
    return rows


def test_stamps_beside_a_busy_screen(sender, terminal, tmp_path):
    """The source is as near the sender's time as a bare receiver, or 0.3 ms more, screen or not."""
    kit = sender("Bench")
    rows, firsts = written()
    seconds = STROKES * STEP_S + 3.0
    kinds = ("bare", "source", "screen")
    receivers = [Receiver(terminal, kind, kit.port, seconds, tmp_path) for kind in kinds]
    kit.start(rows)
    sent = kit.sent()
    results = {one.kind: one.result() for one in receivers}
    results["source, macOS fault"] = {"rows": with_fault(results["source"]["raw"])}
    table = {
        kind: figures(by_index(found["rows"]), sent, firsts) for kind, found in results.items()
    }
    frames = results["screen"]["frames"] / seconds
    load = os.getloadavg()[0]
    print(
        f"\n{os.cpu_count()} cores, load {load:.1f}, {frames:.0f} frames/s; {len(sent)} notes; ms"
    )
    print(f"{'receiver':22}{'median':>9}{'p99':>9}{'worst':>9}{'unison p99':>12}{'lost':>6}")
    for kind, (median, p99, worst, gap, lost) in table.items():
        print(f"{kind:22}{median:9.3f}{p99:9.3f}{worst:9.3f}{gap:12.3f}{lost:6}")
    assert table["source"][1] <= max(1.3 * table["bare"][1], table["bare"][1] + 0.3)
    assert table["source, macOS fault"][3] < table["screen"][1]
