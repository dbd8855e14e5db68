"""Notices that the terminal is gone, so that the program ends instead of drawing for nobody.

A terminal that closes usually sends SIGHUP. Where that is ignored (nohup) or never comes (some
containers), the terminal's descriptor still says that the other side hung up.
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

LOOK_S = 0.5


def watch(app: App[Any], gone: Callable[[], None]) -> None:
    """Call `gone` when the terminal hangs up. Without a terminal or on Windows nothing happens."""
    with contextlib.suppress(AttributeError, NotImplementedError, RuntimeError, ValueError):
        asyncio.get_running_loop().add_signal_handler(signal.SIGHUP, gone)
    terminal = sys.__stdin__
    if terminal is None or app.is_headless or not hasattr(select, "poll"):
        return

    def look() -> None:
        if hung_up(terminal.fileno()):
            gone()

    app.set_interval(LOOK_S, look)


def hung_up(descriptor: int) -> bool:
    """Return whether the other side of a terminal is closed."""
    poll = select.poll()
    poll.register(descriptor, 0)
    found = poll.poll(0)
    return bool(found) and bool(found[0][1] & (select.POLLHUP | select.POLLERR | select.POLLNVAL))
