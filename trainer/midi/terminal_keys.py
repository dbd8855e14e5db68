"""Reads single keys from the terminal without waiting, for playing without a screen."""

from __future__ import annotations

import os
import select
import sys
import time
from typing import Any

from trainer.errors import BadInput

LOOK_S = 0.005
"""How often keys are looked for where they cannot be waited for."""


class TerminalKeys:
    """The keys pressed since the last look. A context manager that gives the terminal back."""

    def __enter__(self) -> TerminalKeys:
        if not sys.stdin.isatty():
            raise BadInput(
                "the keys can only be read from a terminal",
                where="--port keys",
                mend="run it in a terminal, or name a MIDI port",
            )
        self._kept = None if sys.platform == "win32" else _single_keys()
        return self

    def __exit__(self, *_: object) -> None:
        if self._kept is not None:
            import termios

            termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, self._kept)

    def wait(self, seconds: float) -> None:
        """Wait until a key is typed, at most so long."""
        if sys.platform == "win32":
            time.sleep(min(seconds, LOOK_S))
        else:
            select.select([sys.stdin.fileno()], [], [], seconds)

    def read(self) -> str:
        """Return the characters typed since the last call, at once."""
        if sys.platform == "win32":
            return _read_windows()
        fd = sys.stdin.fileno()
        if not select.select([fd], [], [], 0)[0]:
            return ""
        return os.read(fd, 1024).decode(errors="ignore")


def _single_keys() -> Any:
    """Make the terminal give each key at once and unseen; return its former state."""
    import termios
    import tty

    fd = sys.stdin.fileno()
    kept = termios.tcgetattr(fd)
    tty.setcbreak(fd)
    return kept


def _read_windows() -> str:
    import msvcrt  # only there on Windows

    look: Any = msvcrt
    keys = ""
    while look.kbhit():
        keys += look.getwch()
    return keys
