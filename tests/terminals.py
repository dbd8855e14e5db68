"""The program in a pseudo terminal of its own: what it says, keys for it, and its window."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from patience import until

from trainer.archive.session_file import open_session

if TYPE_CHECKING:
    from trainer.archive.session import Session

ROOT = Path(__file__).parents[1]


class Terminal:
    """`trainer COMMAND ...` in a pseudo terminal that controls it.

    `start` is what Python runs instead of the package, `changes` are variables of its environment.
    """

    def __init__(
        self,
        *args: str,
        size: tuple[int, int] = (40, 120),
        start: tuple[str, ...] = ("-m", "trainer"),
        **changes: str,
    ) -> None:
        import pty

        self.fd, theirs = pty.openpty()
        self.resize(*size, show=False)
        self.process = subprocess.Popen(
            [sys.executable, *start, *args],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
            preexec_fn=_take_terminal,
            env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm-256color", **changes},
        )
        os.close(theirs)
        self.said = ""

    def read_to(self, text: str) -> None:
        """Read on until a text was said."""
        until(lambda: text in self.said, lambda: f"{text!r} in {self.said[-3000:]}", self._read_on)

    def _read_on(self) -> None:
        """Read what comes next; the program may not end before what is waited for."""
        before = self.said
        if not self.read(0.1) and self.said == before:
            pytest.fail(f"it ended too early: {self.said[-3000:]}")

    def read(self, seconds: float) -> bool:
        """Read what is said within some seconds; return False where the terminal is closed."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if select.select([self.fd], [], [], left)[0]:
                try:
                    self.said += os.read(self.fd, 65536).decode(errors="replace")
                except OSError:
                    return False
        return True

    def wait(self) -> int:
        """Read on until the program ends; return its exit status."""
        until(
            lambda: self.process.poll() is not None,
            lambda: f"its end, after {self.said[-3000:]}",
            lambda: self.read(0.05),
        )
        self.read(0.2)
        return self.process.returncode

    def type(self, keys: str) -> None:
        """Press keys."""
        os.write(self.fd, keys.encode())

    def resize(self, rows: int, columns: int, *, show: bool = True) -> None:
        """Give the window another size."""
        import fcntl
        import struct
        import termios

        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        if show:
            self.process.send_signal(signal.SIGWINCH)

    def close(self) -> None:
        """Take the terminal away."""
        os.close(self.fd)
        self.fd = -1

    def end(self) -> None:
        """Leave nothing behind."""
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        if self.fd >= 0:
            self.close()


def _take_terminal() -> None:
    import fcntl
    import termios

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


def play_simulated(home: Terminal) -> None:
    """Choose the simulated player at home, and practise the pattern under the cursor with it.

    No MIDI input is connected: c goes on from the computer keys to the simulated player.
    """
    home.read_to("c changes it")
    home.type("c")
    home.read_to("a simulated player")
    begin(home)


def begin(home: Terminal) -> None:
    """Practise the pattern under the cursor at home, with what stands on the screen before it."""
    home.said = ""
    home.type("\r")
    home.read_to("before you play")
    home.type("\r")


def engine_of(program: int) -> int:
    """Return the engine of a running program: the child that one of its threads spawned."""
    for children in Path(f"/proc/{program}/task").glob("*/children"):
        for child in children.read_text().split():
            if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes():
                return int(child)
    raise AssertionError("no engine runs")


def finished(folder: Path) -> Session:
    """Return the only session of a folder once its last line is there."""
    (path,) = until(lambda: list(folder.glob("*.jsonl")), f"a session in {folder}")
    until(lambda: open_session(path).summary is not None, f"the end of {path}")
    return open_session(path)


def strikes_on_disk(folder: Path) -> int:
    """Return how many strokes the only session of a folder holds so far."""
    texts = [path.read_text() for path in folder.glob("*.jsonl")]
    return sum(line.startswith("[") for line in "".join(texts).splitlines())


def wait_for_strikes(folder: Path, count: int) -> None:
    """Wait until so many strokes are on disk."""
    until(lambda: strikes_on_disk(folder) >= count, f"{count} strokes in {folder}")


def wait_for_end(process: int) -> None:
    """Wait until a process that is not our child has ended."""
    until(lambda: _has_ended(process), f"the end of process {process}")


def _has_ended(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return True
    return state in "ZX"
