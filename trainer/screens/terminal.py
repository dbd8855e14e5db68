"""The terminal: noticing that it is gone or slow, and measuring how long it takes.

Loads no Textual. A terminal that closes usually sends SIGHUP. Where that is ignored (nohup) or
never comes (some containers), the terminal's descriptor still says that the other side hung up.
The program then ends instead of drawing for nobody. Its delay is measured with a question (device
status report, `ESC [ 6 n`) of the ECMA-48 and DEC standards that all common terminals follow. It
waits behind what was written before, so the answer shows when that was taken in; what the
graphics do after it is not seen.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import select
import signal
import sys
from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer.midi.keyboard import TerminalKeys
from trainer.midi.timing import Delays

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import App


POLL_S = 0.5

MOST_WAITING = 2
"""Pieces of output that may wait for the terminal; a terminal at hand takes each at once."""


def watch_terminal(app: App[Any], gone: Callable[[], None]) -> None:
    """Call `gone` when the terminal hangs up. Without a terminal or on Windows nothing happens."""
    with contextlib.suppress(AttributeError, NotImplementedError, RuntimeError, ValueError):
        asyncio.get_running_loop().add_signal_handler(signal.SIGHUP, gone)
    terminal = sys.__stdin__
    if terminal is None or app.is_headless or not hasattr(select, "poll"):
        return

    def look() -> None:
        if hung_up(terminal.fileno()):
            gone()

    app.set_interval(POLL_S, look)


def terminal_is_behind(app: App[Any]) -> bool:
    """Return whether the terminal has yet to take most of what was drawn before.

    Over a slow line whatever is drawn now would wait behind it: better to draw later, what is so
    then. The queue is Textual's own; where a driver has none, nothing is known to wait.
    """
    queue = getattr(getattr(app._driver, "_writer_thread", None), "_queue", None)
    return queue is not None and queue.qsize() > MOST_WAITING


def hung_up(descriptor: int) -> bool:
    """Return whether the other side of a terminal is closed."""
    poll = select.poll()
    poll.register(descriptor, 0)
    found = poll.poll(0)
    return bool(found) and bool(found[0][1] & (select.POLLHUP | select.POLLERR | select.POLLNVAL))


DELAY_QUESTION = b"\x1b[6n"
_PATIENCE_S = 1.0
_LONGEST_LINE = 80


def terminal_delays(times: int = 50) -> Delays | None:
    """Return how long a changed line takes to be taken in; None without a terminal that answers."""
    if sys.platform == "win32" or not (sys.stdin.isatty() and sys.stdout.isatty()):
        return None
    delays = Delays()
    with TerminalKeys():
        for count in range(times):
            taken = _ask(f"\r\x1b[2K{'.' * (count % _LONGEST_LINE)}".encode())
            if taken is None:
                return None
            delays.add(taken)
        os.write(sys.stdout.fileno(), b"\r\x1b[2K")
    return delays


def _ask(change: bytes) -> float | None:
    """Write a change and return the seconds until the terminal has it, None without an answer."""
    start = perf_counter()
    os.write(sys.stdout.fileno(), change + DELAY_QUESTION)
    answer = b""
    while not answer.endswith(b"R"):
        if not select.select([sys.stdin], [], [], _PATIENCE_S)[0]:
            return None
        answer += os.read(sys.stdin.fileno(), 64)
    return perf_counter() - start
