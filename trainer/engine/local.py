"""The engine in this process, behind the same handle: for simulated time and for tests of screens.

Nothing happens by itself: `run_to` takes turns up to a second of the session's clock, and `wait`
runs to the end.
"""

from __future__ import annotations

import socket
from typing import TYPE_CHECKING

from trainer.engine.job import Engine

if TYPE_CHECKING:
    from trainer.engine.job import Job
    from trainer.practice.events import Command, Event


class LocalHandle:
    """A handle on an engine that runs when it is told to."""

    def __init__(self, job: Job) -> None:
        self._events: list[Event] = []
        self._commands: list[Command] = []
        self._ended = False
        # A pair of sockets gives the screen something to watch, as a pipe does.
        self._here, self._there = socket.socketpair()
        self._here.setblocking(False)
        self.engine = Engine(job, self._tell, self._taken)
        self.engine.loop.start()

    def run_to(self, second: float) -> None:
        """Take turns until a second of the session's clock, or until the session is over."""
        loop = self.engine.loop
        while not self._ended and not loop.session.over and loop.clock.now() < second:
            loop.turn()
        if loop.session.over:
            self._finish()

    def fileno(self) -> int:
        """Return a descriptor that is readable when events wait."""
        return self._here.fileno()

    def wait(self, seconds: float) -> None:
        """Run to the end: time is simulated and costs nothing."""
        del seconds
        self.run_to(float("inf"))

    def poll(self) -> list[Event]:
        """Return the events that wait; raises EOFError when there will be no more."""
        if self._events:
            self._here.recv(1)
        elif self._ended:
            raise EOFError
        found, self._events = self._events, []
        return found

    def send(self, command: Command) -> None:
        """Hand a command over; it is done in the next turn."""
        self._commands.append(command)

    def close(self) -> None:
        """End the session and save it; closing twice is harmless."""
        if not self._ended:
            loop = self.engine.loop
            self._tell(loop.session.quit(loop.clock.now()))
            self._finish()
        self._here.close()
        self._there.close()

    def _finish(self) -> None:
        if not self._ended:
            self._ended = True
            self.engine.finish()

    def _tell(self, events: list[Event]) -> None:
        if not self._events and events:
            self._there.send(b".")
        self._events += events

    def _taken(self) -> list[Command]:
        found, self._commands = self._commands, []
        return found
