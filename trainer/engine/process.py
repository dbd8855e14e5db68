"""The engine in a process of its own, so that no screen can delay it and it outlives the screen.

`start` spawns the process, hands it a job and returns a handle once the ports are open; it must be
called before a screen takes the terminal over. Events come over one pipe and commands go over
another, each with a thread of its own in the engine, so that a screen that falls behind or hangs
holds nothing up. When the screen's end of the pipe closes, the screen's process dies or a signal
asks for the end, the session is finished and saved.
"""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import signal
from collections import deque
from multiprocessing.connection import Connection, wait
from queue import SimpleQueue
from threading import Lock, Thread
from typing import TYPE_CHECKING, Any

from trainer.engine.job import Engine
from trainer.errors import Failure, TrainerError
from trainer.midi.quiet import silence
from trainer.practice.events import Command

if TYPE_CHECKING:
    from trainer.engine.job import Job
    from trainer.practice.events import Event

READY = "ready"

LAST_WORDS_S = 2.0
"""How long the engine waits at its end for a screen that does not take its last events."""

GOODBYE_S = 20.0
"""How long `close` waits for the engine to save a long session."""


class EngineHandle:
    """The screen's side of an engine in another process."""

    def __init__(
        self, process: Any, events: Connection[Any, Any], commands: Connection[Any, Any]
    ) -> None:
        self.process = process
        self._events, self._commands = events, commands
        self._sending = Lock()
        self._ended = False

    def fileno(self) -> int:
        """Return a descriptor that is readable when events wait."""
        return self._events.fileno()

    def wait(self, seconds: float) -> None:
        """Wait until events are there, at most so long."""
        if not self._ended:
            wait([self._events], seconds)

    def poll(self) -> list[Event]:
        """Return the events that wait; raises EOFError when there will be no more."""
        found: list[Event] = []
        try:
            while not self._ended and self._events.poll():
                found += self._events.recv()
        except (EOFError, OSError):
            self._ended = True
        if self._ended and not found:
            raise EOFError
        return found

    def send(self, command: Command) -> None:
        """Hand a command over; one that comes too late is lost without a word."""
        with contextlib.suppress(OSError), self._sending:
            self._commands.send(command)

    def close(self) -> None:
        """Let the engine go: it saves what it has and ends. Closing twice is harmless."""
        self._ended = True
        self._commands.close()
        self._events.close()
        self.process.join(GOODBYE_S)


def start(job: Job) -> EngineHandle:
    """Start an engine and return its handle; raises what it raised while opening ports."""
    spawn = multiprocessing.get_context("spawn")
    events, tell = spawn.Pipe(duplex=False)
    hear, commands = spawn.Pipe(duplex=False)
    # A daemon is ended with the program even if the screen leaves by an error.
    process = spawn.Process(target=main, args=(job, tell, hear), name="engine", daemon=True)
    process.start()
    # With our copies closed, each side sees the other's end.
    tell.close()
    hear.close()
    handle = EngineHandle(process, events, commands)
    try:
        first = events.recv()
    except EOFError:
        first = Failure("the engine ended before it was ready", mend="try again")
    if first != READY:
        handle.close()
        raise first
    return handle


def main(job: Job, events: Connection[Any, Any], commands: Connection[Any, Any]) -> None:
    """Run a job: the engine's whole life, in its own process."""
    inbox: deque[Command] = deque()
    _listen_to_signals(inbox)
    silence()
    outbox = Outbox(events)
    try:
        engine = Engine(job, outbox.put, lambda: _taken(inbox))
    except TrainerError as error:
        events.send(error)
        return
    events.send(READY)
    outbox.start()
    Thread(target=_hear, args=(commands, inbox), daemon=True).start()
    # Collecting garbage would hold up the click; a session leaves next to none behind.
    gc.collect()
    gc.freeze()
    gc.disable()
    engine.run()
    outbox.end()


def _listen_to_signals(inbox: deque[Command]) -> None:
    """Take every wish to end as a command, so that the session is saved."""
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)
        if number is not None:
            signal.signal(number, lambda *_: inbox.append(Command("quit")))


def _taken(inbox: deque[Command]) -> list[Command]:
    return [inbox.popleft() for _ in range(len(inbox))] if inbox else []


def _hear(commands: Connection[Any, Any], inbox: deque[Command]) -> None:
    """Take commands until the screen's end closes or its process dies; then ask for the end."""
    parent = multiprocessing.parent_process()
    watched: list[Any] = [commands, parent.sentinel] if parent else [commands]
    with contextlib.suppress(EOFError, OSError):
        while commands in wait(watched):
            inbox.append(commands.recv())
    inbox.append(Command("quit"))


class Outbox:
    """Sends events from a thread of its own; `put` never waits."""

    def __init__(self, events: Connection[Any, Any]) -> None:
        self._events = events
        self._queue: SimpleQueue[list[Event] | None] = SimpleQueue()
        self._thread = Thread(target=self._run, name="outbox", daemon=True)
        self.put = self._queue.put

    def start(self) -> None:
        """Begin to send."""
        self._thread.start()

    def end(self) -> None:
        """Send what is left, unless nobody takes it."""
        self._queue.put(None)
        self._thread.join(LAST_WORDS_S)

    def _run(self) -> None:
        try:
            while (events := self._queue.get()) is not None:
                self._events.send(events)
        except OSError:
            return  # the screen is gone; the commands' end says so too
