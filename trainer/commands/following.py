"""Follows a session in lines of text: what the engine tells goes out, keys and signals go in.

A thread of its own reads the keys and gives each the time it was pressed at. Signals become a wish
to end, so that the session is saved and its summary still told.
"""

from __future__ import annotations

import signal
from contextlib import ExitStack
from threading import Event as Flag
from threading import Thread
from time import perf_counter
from typing import TYPE_CHECKING, Protocol

from trainer import console
from trainer.midi.keyboard import TerminalKeys
from trainer.practice.events import Command, Finished
from trainer.show.plain_text import key_commands

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.practice.events import Event
    from trainer.show.plain_text import PlainText

LOOK_S = 0.2


class Handle(Protocol):
    """The face's end of a running engine."""

    def wait(self, seconds: float) -> None:
        """Wait until events are there, at most so long."""
        ...

    def poll(self) -> list[Event]:
        """Return the events that wait; raises EOFError when there will be no more."""
        ...

    def send(self, command: Command) -> None:
        """Hand a command over."""
        ...


def follow(handle: Handle, face: PlainText | None, *, keys: bool) -> Finished:
    """Tell a session as it goes (nothing without a face); return how it ended.

    `keys` reads the terminal's keys. Raises EOFError when the engine ends without a word.
    """
    with ExitStack() as stack:
        end_asked = stack.enter_context(_Signals())
        if keys:
            stack.enter_context(_Keyboard(handle))
        for event in _events(handle, end_asked):
            if face:
                console.print_lines(face.lines(event))
            if isinstance(event, Finished):
                return event
    raise EOFError


def _events(handle: Handle, end_asked: Flag) -> Iterator[Event]:
    """Yield events as they come, and pass a wish to end on."""
    while True:
        handle.wait(LOOK_S)
        if end_asked.is_set():
            end_asked.clear()
            handle.send(Command("quit"))
        yield from handle.poll()


class _Signals:
    """While it holds, signals that ask for the end only set a flag; nothing is interrupted."""

    def __enter__(self) -> Flag:
        asked = Flag()
        names = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
        numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
        self._before = {one: signal.signal(one, lambda *_: asked.set()) for one in numbers}
        return asked

    def __exit__(self, *_: object) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)


class _Keyboard:
    """While it holds, keys typed in the terminal become commands at once."""

    def __init__(self, handle: Handle) -> None:
        self._handle = handle
        self._keys = TerminalKeys()
        self._ended = Flag()
        self._thread = Thread(target=self._listen, name="keys", daemon=True)

    def __enter__(self) -> None:
        self._keys.__enter__()
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()
        self._keys.__exit__()

    def _listen(self) -> None:
        while not self._ended.is_set():
            self._keys.wait(LOOK_S)
            pressed_s = perf_counter()
            for command in key_commands(self._keys.read(), pressed_s):
                self._handle.send(command)
