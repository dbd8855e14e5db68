"""Running an engine: in a process of its own, or in this one, behind the same handle.

In a process of its own, no screen can delay the engine and it outlives the screen. `start_engine`
spawns the process, hands it a job and returns a handle once the ports are open. Events come over
one pipe and commands go over another, each with a thread of its own in the engine, so that a screen
that falls behind or hangs holds nothing up. When the screen's end of the pipe closes, the screen's
process dies or a signal ends it, the session is finished and saved.

`LocalHandle` runs the engine in this process, for simulated time and for tests of screens. Nothing
happens on its own: `run_to` runs turns up to a second of the session's clock, `wait` runs to the
end.
"""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import os
import signal
import socket
import sys
from collections import deque
from multiprocessing.connection import Connection, wait
from queue import SimpleQueue
from threading import Lock, Thread
from typing import TYPE_CHECKING, Any, Protocol

from trainer.engine.job import Engine
from trainer.errors import Failure, TrainerError
from trainer.fault_report import reported, watch_threads
from trainer.midi.ports import quiet_libraries, silence_libraries
from trainer.practice.events import Command, Notice

if TYPE_CHECKING:
    from trainer.engine.job import Job
    from trainer.practice.events import Event


READY = "ready"

HAND_OVER_S = 0.000_5
"""How long a thread of the engine may keep the interpreter while another one waits for it."""

LAST_WORDS_S = 2.0
"""How long the engine waits at its end for a screen that does not take its last events."""

GOODBYE_S = 20.0
"""How long `close` waits for the engine to save a long session."""


class Handle(Protocol):
    """The face's end of a running engine."""

    def fileno(self) -> int:
        """Return a descriptor that is readable when events wait, or a negative number."""
        ...

    def wait(self, seconds: float) -> None:
        """Wait until events are there, at most so long."""
        ...

    def poll(self) -> list[Event]:
        """Return the events that wait; raises EOFError when there will be no more."""
        ...

    def send(self, command: Command) -> None:
        """Hand a command over."""
        ...

    def close(self) -> None:
        """Let the engine go: it saves what it has. Closing twice is harmless."""
        ...


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


def start_engine(job: Job) -> EngineHandle:
    """Start an engine and return its handle; raises what it raised while opening ports."""
    spawn = multiprocessing.get_context("spawn")
    events, show = spawn.Pipe(duplex=False)
    hear, commands = spawn.Pipe(duplex=False)
    # A daemon is ended with the program even if the screen leaves by an error.
    process = spawn.Process(target=run_job, args=(job, show, hear), name="engine", daemon=True)
    _start_process(process)
    # With our copies closed, each side sees the other's end.
    show.close()
    hear.close()
    handle = EngineHandle(process, events, commands)
    try:
        first = events.recv()
    except EOFError:
        first = Failure("the timing engine ended before it was ready", fix="try again")
    if first != READY:
        handle.close()
        raise first
    return handle


def _start_process(process: Any) -> None:
    """Start a process, also while a screen uses the terminal.

    Python flushes standard error first and hands its descriptor on. A screen puts an object without
    a descriptor in its place, and the stream below waits for as long as the terminal takes nothing.
    The process itself begins without a standard error: what Python would complain about there, for
    instance that the screen has died meanwhile, is no news for a player.
    """
    with quiet_libraries(), open(os.devnull, "w") as nowhere, contextlib.redirect_stderr(nowhere):
        process.start()


def run_job(job: Job, events: Connection[Any, Any], commands: Connection[Any, Any]) -> None:
    """Run a job: the engine's whole life, in its own process."""
    inbox: deque[Command] = deque()
    _listen_to_signals(inbox)
    silence_libraries()
    outbox = Outbox(events)
    watch_threads(lambda fault: outbox.put([Notice(str(fault), "warning")]))
    ready: str | TrainerError = READY
    try:
        engine = Engine(job, outbox.put, lambda: _take_commands(inbox))
    except TrainerError as error:
        ready = error
    except Exception as error:  # noqa: BLE001  the end of this process: it has a net of its own
        ready = reported(error)
    with contextlib.suppress(OSError):  # a screen that is gone by now is noticed by its commands
        events.send(ready)
    if ready != READY:
        return
    outbox.start()
    Thread(target=_receive_commands, args=(commands, inbox), daemon=True).start()
    # Collecting garbage would hold up the click; a session leaves next to none behind. So would a
    # thread that keeps the interpreter for the usual 5 ms.
    sys.setswitchinterval(HAND_OVER_S)
    gc.collect()
    gc.freeze()
    gc.disable()
    try:
        engine.run()
    except Exception as error:  # noqa: BLE001  as above
        outbox.put([Notice(str(reported(error)), "warning")])
    outbox.end()


def _listen_to_signals(inbox: deque[Command]) -> None:
    """Take every wish to end as a command, so that the session is saved."""
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)
        if number is not None:
            signal.signal(number, lambda *_: inbox.append(Command("quit")))


def _take_commands(inbox: deque[Command]) -> list[Command]:
    return [inbox.popleft() for _ in range(len(inbox))] if inbox else []


def _receive_commands(commands: Connection[Any, Any], inbox: deque[Command]) -> None:
    """Take commands until the screen's end closes or its process dies; then request the end."""
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


class LocalHandle:
    """A handle on an engine that runs on command."""

    def __init__(self, job: Job) -> None:
        self._events: list[Event] = []
        self._commands: list[Command] = []
        self._ended = False
        # A pair of sockets gives the screen something to watch, as a pipe does.
        self._here, self._there = socket.socketpair()
        self._here.setblocking(False)
        self.engine = Engine(job, self._show, self._taken)
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
            self._show(loop.session.quit(loop.clock.now()))
            self._finish()
        self._here.close()
        self._there.close()

    def _finish(self) -> None:
        if not self._ended:
            self._ended = True
            self.engine.finish()

    def _show(self, events: list[Event]) -> None:
        if not self._events and events:
            self._there.send(b".")
        self._events += events

    def _taken(self) -> list[Command]:
        found, self._commands = self._commands, []
        return found
