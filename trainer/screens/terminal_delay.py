"""How long the terminal takes: it is asked where its cursor stands, and answers when it is done.

The question (device status report, `ESC [ 6 n`) is part of the ECMA-48 and DEC standards that all
common terminals follow. It waits behind what was written before, so the answer tells when that was
taken in; what the graphics do after it is not seen.
"""

from __future__ import annotations

import os
import select
import sys
from time import perf_counter

from trainer.midi.quality import Delays
from trainer.midi.terminal_keys import TerminalKeys

QUESTION = b"\x1b[6n"
_PATIENCE_S = 1.0
_CELLS = 80


def measure(times: int = 50) -> Delays | None:
    """Return how long a changed line takes to be taken in; None without a terminal that answers."""
    if sys.platform == "win32" or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return None
    delays = Delays()
    with TerminalKeys():
        for count in range(times):
            taken = _ask(f"\r\x1b[2K{'.' * (count % _CELLS)}".encode())
            if taken is None:
                return None
            delays.add(taken)
        os.write(sys.stdout.fileno(), b"\r\x1b[2K")
    return delays


def _ask(change: bytes) -> float | None:
    """Write a change and return the seconds until the terminal has it, None without an answer."""
    start = perf_counter()
    os.write(sys.stdout.fileno(), change + QUESTION)
    answer = b""
    while not answer.endswith(b"R"):
        if not select.select([sys.stdin], [], [], _PATIENCE_S)[0]:
            return None
        answer += os.read(sys.stdin.fileno(), 64)
    return perf_counter() - start
