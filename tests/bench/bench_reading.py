"""How the cost of a reading grows: measured in one run, printed, asserted only as a ratio.

Run: python -m pytest -s tests/bench/bench_reading.py
"""

from __future__ import annotations

import time
from statistics import median

import pytest
from handmade import course, judged, player, walk

from trainer.measure.reading import read_take

SMALL, LARGE = 120, 960
"""Passes of 88 strokes: about ten and eighty thousand strokes."""


def _seconds(passes: int) -> tuple[int, float]:
    made = judged(course(walk(4), passes), offset_ms=player(1, 8.0))
    times = []
    for _ in range(3):
        start = time.perf_counter()
        read_take(made)
        times.append(time.perf_counter() - start)
    return len(made.targets), median(times)


@pytest.mark.bench
def test_reading_grows_no_faster_than_the_take(capsys: pytest.CaptureFixture[str]) -> None:
    """Eight times the strokes take at most twelve times as long."""
    (small, short), (large, long) = _seconds(SMALL), _seconds(LARGE)
    with capsys.disabled():
        growth = f"{large / small:.0f} times the strokes, {long / short:.1f} times the time"
        print(f"\nreading: {1e6 * long / large:.1f} us a stroke over {large}; {growth}")

    assert long / short <= 12
