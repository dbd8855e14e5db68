"""The program in a real terminal, a window of tmux: keys for it, and what its screen shows."""

from __future__ import annotations

import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from patience import until

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).resolve().parents[1]


class Tmux:
    """A server of its own, so that nobody's sessions are touched."""

    def __init__(self, name: str) -> None:
        self._base = ["tmux", "-L", name, "-f", "/dev/null"]

    def run(self, *arguments: str) -> str:
        return subprocess.run(
            [*self._base, *arguments], capture_output=True, text=True, check=False
        ).stdout

    def wait(self, text: str) -> str:
        """Return the screen once it shows a text."""
        return until(
            lambda: screen if text in (screen := self.shows()) else "",
            lambda: f"{text!r} on {self.shows()}",
        )

    def shows(self) -> str:
        """Return what the screen shows now."""
        return self.run("capture-pane", "-p")

    def wait_gone(self, text: str) -> None:
        """Wait until the screen shows a text no more."""
        until(
            lambda: text not in self.shows(),
            lambda: f"{text!r} still on {self.shows()}",
        )

    @property
    def full_screen(self) -> bool:
        """Whether the terminal shows its alternate screen, not the shell's lines."""
        return self.run("display-message", "-p", "#{alternate_on}").strip() == "1"

    def keys(self, *keys: str) -> None:
        """Press keys."""
        self.run("send-keys", *keys)


Server = TypeVar("Server", bound=Tmux)


@contextmanager
def running(name: str, arguments: str, kind: type[Server] = Tmux) -> Iterator[Server]:
    """Give a terminal of 80x24 that runs the program."""
    server = kind(f"trainer-test-{name}")
    command = f"{sys.executable} -m trainer {arguments}; echo back; sleep 60"
    server.run("new-session", "-d", "-x", "80", "-y", "24", "-c", str(ROOT), command)
    try:
        yield server
    finally:
        server.run("kill-server")


@contextmanager
def shell(name: str) -> Iterator[Tmux]:
    """Give a terminal of 80x24 with a shell in it that waits for commands after a dollar."""
    server = Tmux(f"trainer-test-{name}")
    server.run("new-session", "-d", "-x", "80", "-y", "24", "-c", str(ROOT), "env PS1='$ ' sh")
    try:
        server.wait("$")
        yield server
    finally:
        server.run("kill-server")
