"""A rest between two blocks: the time left, and a key to go on or to stop."""

from __future__ import annotations

import select
import sys
import time

from trainer import console

TOLD_EVERY_S = 30.0


def rest(seconds: float, fast: bool = False) -> bool:
    """Wait; return True when the rest is over, False where the player stops the routine.

    Enter goes on at once, q and Enter (or Ctrl-C) stops. `fast` is for simulated time: no waiting.
    """
    if fast:
        return True
    console.print_line("Put the sticks down. Enter: go on now; q and Enter: stop here.")
    ends = time.monotonic() + seconds
    try:
        while (left := ends - time.monotonic()) > 0:
            console.print_line(f"{int(left // 60)}:{int(left % 60):02d} left")
            answer = _line_within(min(left, TOLD_EVERY_S))
            if answer is not None:
                return answer.strip().lower() not in ("q", "quit")
    except KeyboardInterrupt:
        return False
    return True


def _line_within(seconds: float) -> str | None:
    """Return what was typed, None where nothing was in the time given."""
    if not sys.stdin.isatty():
        time.sleep(seconds)
        return None
    try:
        ready, _, _ = select.select([sys.stdin], [], [], seconds)
    except OSError:  # Windows waits on sockets only: the rest is kept, Ctrl-C still stops it.
        time.sleep(seconds)
        return None
    return sys.stdin.readline() if ready else None
