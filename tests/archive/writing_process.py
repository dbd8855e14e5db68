"""Plays strikes into a journal until it is killed: run by the tests as a process of its own.

Usage: python writing_process.py FOLDER STRIKES_A_SECOND [COUNT]. For every strike handed over, its
number and the time on the machine's monotonic clock go to standard output.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

from sessions import header

from trainer.archive.journal import Journal
from trainer.archive.session import RungResult
from trainer.kit.hits import Strike
from trainer.practice.course import Pass


def main(folder: str, rate: float, count: int = 10**9) -> None:
    """Write passes of sixteen strikes, with a rung after each, then finish."""
    journal = Journal(Path(folder), header())
    for number in range(count):
        if number % 16 == 0:
            index = number // 16
            journal.pass_started(Pass(index, 120.0, 2.0 * index))
            journal.rung(RungResult(index, 120.0, True, (), 2.0 * index))
        journal.strike(Strike(number * 0.125, 38, 1 + number % 127))
        os.write(1, b"%d %.6f\n" % (number, time.monotonic()))
        time.sleep(1 / rate)
    journal.finish({"strikes": count})
    for text in journal.news():
        os.write(1, f"news {text}\n".encode())
    os.write(1, f"path {journal.path}\n".encode())


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]), *map(int, sys.argv[3:]))
