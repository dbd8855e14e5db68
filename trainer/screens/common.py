"""What several screens share: their messages, results from threads, and saving a picture.

A screen leaves its stack at once and is taken down afterwards, so whether it is still open can only
be known on the event loop, in the same turn in which a result is shown. Pictures are drawn and
saved off the event loop.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual._context import NoActiveAppError
from textual.app import App
from textual.binding import Binding
from textual.message import Message
from textual.widgets import Footer
from textual.worker import get_current_worker

from trainer.console import printable
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from pathlib import Path

    from textual.screen import Screen

    from trainer.actions.replay import OpenedSession
    from trainer.show.svg import Picture


class CellChosen(Message):
    """The player's cursor moved to another cell of the hit map."""


class SessionChosen(Message):
    """The player's cursor moved to another session of the list."""


class PadStruck(Message):
    """A pad that is a key was struck while nothing is played; `command` is what it does."""

    def __init__(self, command: str) -> None:
        super().__init__()
        self.command = command


def is_open(shown: App[Any] | Screen[Any]) -> bool:
    """Return whether a screen is open, also below another one, or whether an app still runs."""
    app = shown if isinstance(shown, App) else shown.app
    open_now = (one for one in app.screen_stack if one.is_attached)
    return app.is_running and any(shown in (one, app) for one in open_now)


def call_on_screen(
    shown: App[Any] | Screen[Any], does: Callable[..., Any], *words: Any, **more: Any
) -> bool:
    """Do something on the event loop from a thread worker, unless nobody looks any more.

    `shown` is what it is shown on. Returns False, and drops it, where that was closed or where the
    worker was called off.
    """
    worker = get_current_worker()

    def now() -> bool:
        wanted = not worker.is_cancelled and is_open(shown)
        if wanted:
            does(*words, **more)
        return wanted

    try:
        app = shown.app
    except NoActiveAppError:  # taken down already
        return False
    return not worker.is_cancelled and app.call_from_thread(now)


def play_hard_spot(screen: Screen[Any], opened: OpenedSession, marked: Collection[int]) -> None:
    """Practise the marked bars of a replayed session, or its worst one.

    A replay that was opened from the summary of what was just played gives way, with that summary.
    """
    from trainer.actions.hard_spot import hard_spot

    app: Any = screen.app
    try:
        request = hard_spot(opened, marked)
    except TrainerError as fault:
        screen.notify(printable(str(fault)), severity="error", markup=False)
        return
    app.play(request)
    if app.playing:
        app.pop_screen()
        app.screen.dismiss(None)


def report_fault(screen: Screen[Any], fault: TrainerError, show: Callable[[str], None]) -> None:
    """Show on a screen why it has nothing to show; the first screen ends the program with it."""
    app: Any = screen.app
    if app.bottom is screen:
        app.end_with(fault)
    else:
        show(printable(str(fault)))


CLOSE_KEY = Binding("q,escape", "app.close", "Close", key_display="q", id="close")
HELP_KEY = Binding("question_mark,f1", "app.help", "Help", key_display="?", id="help")
"""The keys that every screen has."""

PICTURE_KEY = Binding("x", "picture", "SVG", tooltip="Save this as an SVG picture, and say where")
"""The key that saves a picture, the same on every screen that can."""


def save_screen_picture(screen: Screen[Any], path: Path, draw: Callable[[], Picture]) -> None:
    """Draw a picture and put it in its place; neither a slow disk nor `draw` holds anything up."""
    app = screen.app

    def write() -> None:
        from trainer.show.svg import save_picture

        try:
            saved = save_picture(path, draw(), own=True)
        except TrainerError as fault:
            reported, severity = str(fault), "error"
        else:
            reported, severity = f"Picture saved: {saved}", "information"
        call_on_screen(app, app.notify, printable(reported), severity=severity, markup=False)

    # The app's worker: a picture is finished, and reported, also when its screen is left.
    app.run_worker(write, thread=True, group="picture")


class KeyLine(Footer):
    """The keys of a screen at its foot, made again only where others are to be shown."""

    _shown: tuple[object, ...] | None = None

    def __init__(self) -> None:
        super().__init__(show_command_palette=False)

    def bindings_changed(self, screen: Screen[Any]) -> None:
        """Show the keys that can be pressed now, each as it can."""
        keys = tuple(
            (one.binding, one.enabled, one.tooltip)
            for one in screen.active_bindings.values()
            if one.binding.show
        )
        if keys != self._shown:
            if self.is_attached and screen is self.screen and self.app.app_focus:
                self._shown = keys
            super().bindings_changed(screen)


MOST_WAITING = 2
"""Pieces of output that may wait for the terminal; a terminal at hand takes each at once."""


def terminal_is_behind(app: App[Any]) -> bool:
    """Return whether the terminal has yet to take most of what was drawn before.

    Over a slow line whatever is drawn now would wait behind it: better to draw later, what is so
    then. The queue is Textual's own; where a driver has none, nothing is known to wait.
    """
    queue = getattr(getattr(app._driver, "_writer_thread", None), "_queue", None)
    return queue is not None and queue.qsize() > MOST_WAITING
