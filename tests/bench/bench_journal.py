"""What saving costs the playing loop, and how soon a strike is in the file.

A loop wakes every millisecond, as the engine's does, and saves a strike each time: by the journal,
by writing in the loop, and by writing and syncing there. The ways are to be compared with each
other, not with a stopwatch.

Run: python -m pytest -s tests/bench/bench_journal.py
"""

from __future__ import annotations

import os
import time
from statistics import median
from typing import TYPE_CHECKING

import pytest
from sessions import header

from trainer.archive.journal import Journal
from trainer.archive.session_format import strike_line
from trainer.kit.hits import Strike

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

pytestmark = pytest.mark.bench

STRIKES = 2000


def strike(number: int) -> Strike:
    """Return one strike of many."""
    return Strike(number / 1000, 38, 100)


def reported(name: str, values: list[float]) -> None:
    """Print median, 99th percentile and maximum, in microseconds."""
    ranked = sorted(values)
    picked = (ranked[len(ranked) // 2], ranked[int(len(ranked) * 0.99)], ranked[-1])
    print(
        "{:<30} median {:8.1f}  p99 {:8.1f}  max {:9.1f} us".format(
            name, *(v * 1e6 for v in picked)
        )
    )


def costs(name: str, save: Callable[[int], None], count: int = STRIKES) -> list[float]:
    """Save every millisecond and return what each time cost the loop, in seconds."""
    found = []
    for number in range(count):
        time.sleep(0.001)
        start = time.perf_counter()
        save(number)
        found.append(time.perf_counter() - start)
    reported(name, found)
    return found


def test_cost_to_the_loop(tmp_path: Path) -> None:
    """Handing a strike to the journal costs a small part of what a sync in the loop would."""
    file = (tmp_path / "plain").open("ab")
    journal = Journal(tmp_path, header())

    def flush(number: int) -> None:
        file.write(strike_line(strike(number)))
        file.flush()

    def sync(number: int) -> None:
        flush(number)
        os.fsync(file.fileno())

    print()
    by_journal = costs("journal", lambda number: journal.strike(strike(number)))
    costs("write in the loop", flush)
    by_sync = costs("write and sync in the loop", sync, STRIKES // 4)
    journal.close()

    assert median(by_journal) < median(by_sync) / 5


def test_time_to_the_file(tmp_path: Path) -> None:
    """A strike is in the file soon after it was handed over, however busy the syncs are."""
    journal = Journal(tmp_path, header())
    path = journal.path
    assert path
    found = []
    for number in range(500):
        size = path.stat().st_size
        start = time.perf_counter()
        journal.strike(strike(number))
        while path.stat().st_size == size:
            time.sleep(0)
        found.append(time.perf_counter() - start)
        time.sleep(0.001)
    journal.close()

    print()
    reported("from hand-over to the file", found)
