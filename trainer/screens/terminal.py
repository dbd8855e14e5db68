"""Notices that the terminal is gone or slow.

Loads no Textual. A terminal that closes usually sends SIGHUP. Where that is ignored (nohup) or
never comes (some containers), the terminal's descriptor still says that the other side hung up.
The program then ends instead of drawing for nobody.
"""

from __future__ import annotations

import asyncio
import contextlib
import select
import signal
import sys
from typing import TYPE_CHECKING, Any

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
