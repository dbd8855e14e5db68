"""How far stamps are off the sender's time, and what is lost: three receivers in one run.

Another process sends strokes over JACK, 20 a second, one in five a unison of two notes back to
back. A bare receiver, the program's own source and a receiver inside a busy screen all listen to
it at once. Errors are taken from their median, in ms.

Run: python -m pytest -s tests/bench/bench_stamps.py   (BENCH_STROKES=1200 for a longer run)
"""

import os
from itertools import pairwise

import pytest
from bench.strokes import STEP_S, STROKES, Receiver, by_index, figures, written

from trainer.midi.timing import DriverClock

pytestmark = [pytest.mark.jack, pytest.mark.bench]


def with_fault(raw):
    """Stamp the driver's own rows again, each packet repeating its difference as macOS does."""
    clock, rows, reported = DriverClock(repeats=True), [], 0.0
    for (_, before, *_), (delta, read, empty, note, velocity) in pairwise([[0.0, 0.0], *raw]):
        packet = read - before < 0.001 and delta < 0.000_5
        reported = reported if packet else delta
        rows.append([note, velocity, clock.stamp(reported, read, empty)])
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
