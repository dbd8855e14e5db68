"""Results that come from a thread to a screen that may have been closed meanwhile.

A screen leaves its stack at once and is taken down afterwards, so whether it is there can only be
told on the event loop, in the same turn in which the result is shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual._context import NoActiveAppError
from textual.app import App
from textual.worker import get_current_worker

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.screen import Screen


def is_there(shown: App[Any] | Screen[Any]) -> bool:
    """Return whether a screen is open, also below another one, or whether an app still runs."""
    app = shown if isinstance(shown, App) else shown.app
    open_now = (one for one in app.screen_stack if one.is_attached)
    return app.is_running and any(shown in (one, app) for one in open_now)


def tell(shown: App[Any] | Screen[Any], does: Callable[..., Any], *words: Any, **more: Any) -> bool:
    """Do something on the event loop from a thread worker, unless nobody looks any more.

    `shown` is what it is shown on. Returns False, and drops it, where that was closed or where the
    worker was called off.
    """
    worker = get_current_worker()

    def now() -> bool:
        wanted = not worker.is_cancelled and is_there(shown)
        if wanted:
            does(*words, **more)
        return wanted

    try:
        app = shown.app
    except NoActiveAppError:  # taken down already
        return False
    return not worker.is_cancelled and app.call_from_thread(now)
