"""The strokes that benchmarks send, who receives them, and how far off what is received is."""

import json
import os
import time

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
