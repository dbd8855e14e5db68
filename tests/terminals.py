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
        self.resize(*size, tell=False)
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

    def read_to(self, text: str, seconds: float = 15.0) -> None:
        """Read on until a text was said."""
        end = time.monotonic() + seconds
        while text not in self.said:
            assert time.monotonic() < end, f"{text!r} was not said: {self.said[-3000:]}"
            if not self.read(0.1) and text not in self.said:
                pytest.fail(f"it ended before {text!r} was said: {self.said[-3000:]}")

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

    def wait(self, seconds: float) -> int:
        """Read on until the program ends; return its exit status."""
        end = time.monotonic() + seconds
        while self.process.poll() is None:
            assert time.monotonic() < end, f"it did not end: {self.said[-3000:]}"
            self.read(0.05)
        self.read(0.2)
        return self.process.returncode

    def type(self, keys: str) -> None:
        """Press keys."""
        os.write(self.fd, keys.encode())

    def resize(self, rows: int, columns: int, *, tell: bool = True) -> None:
        """Give the window another size."""
        import fcntl
        import struct
        import termios

        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        if tell:
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
    """Choose the simulated player at home, and practise the pattern under the cursor with it."""
    home.read_to("c changes it")
    for _ in range(20):
        home.said = ""
        home.type("c")
        home.read(0.3)
        if "simulated player" in home.said:
            break
    home.type("\r")


def engine_of(program: int) -> int:
    """Return the engine of a running program: the child that one of its threads spawned."""
    for children in Path(f"/proc/{program}/task").glob("*/children"):
        for child in children.read_text().split():
            if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes():
                return int(child)
    raise AssertionError("no engine runs")


def finished(folder: Path, seconds: float = 10.0) -> Session:
    """Return the only session of a folder once its last line is there."""
    from trainer.archive.session_file import open_session

    end = time.monotonic() + seconds
    while True:
        (path,) = folder.glob("*.jsonl")
        if (session := open_session(path)).summary is not None:
            return session
        assert time.monotonic() < end, f"not finished within {seconds} s"
        time.sleep(0.02)


def strikes_on_disk(folder: Path) -> int:
    """Return how many strokes the only session of a folder holds so far."""
    texts = [path.read_text() for path in folder.glob("*.jsonl")]
    return sum(line.startswith("[") for line in "".join(texts).splitlines())


def wait_for_strikes(folder: Path, count: int, seconds: float = 20.0) -> None:
    """Wait until so many strokes are on disk."""
    end = time.monotonic() + seconds
    while strikes_on_disk(folder) < count:
        assert time.monotonic() < end, f"no {count} strokes within {seconds} s"
        time.sleep(0.02)


def wait_for_end(process: int, seconds: float = 10.0) -> None:
    """Wait until a process that is not our child has ended."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
        except OSError:
            return
        if state in "ZX":
            return
        time.sleep(0.02)
    raise AssertionError(f"process {process} did not end within {seconds} s")
