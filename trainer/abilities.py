"""What the terminal can do: be drawn on at all, take UTF-8, show colours.

A screen needs keys from standard input, draws on standard error, and what is said before and after
goes to standard output: all three must be a terminal. `TERM` names its kind, the system's
description of that kind (terminfo) says what it can do, and the locale says how letters are
written. Where the locale leaves that open, the terminal is asked.
"""

from __future__ import annotations

import os
import select
import sys
from functools import lru_cache

TRUE_COLOURS = 1 << 24

QUESTION = "\r\u00e9\x1b[6n"
"""One letter of two bytes, then the question where the cursor stands (ECMA-48, `CPR`)."""

PLAINEST, COERCED = ("", "C", "POSIX"), ("C.UTF-8", "C.utf8", "UTF-8")
"""Locales that say nothing of UTF-8, and what Python itself sets then for letters (PEP 538)."""

PATIENCE_S = 1.0
"""How long an answer may take to come over a slow line."""


def can_draw() -> bool:
    """Return True where all streams are a terminal, and of a kind that can move its cursor."""
    streams = (sys.stdin, sys.stdout, sys.stderr)
    kind = "nt" if os.name == "nt" else os.environ.get("TERM", "")
    return all(one.isatty() for one in streams) and kind not in ("", "dumb", "unknown")


def colours() -> int:
    """Return how many colours the terminal shows; 0 for one of letters and light alone."""
    if os.environ.get("COLORTERM") or os.name == "nt":
        return TRUE_COLOURS
    try:
        import curses

        curses.setupterm(os.environ.get("TERM", ""), sys.__stdout__.fileno())  # type: ignore[union-attr]
        return max(0, curses.tigetnum("colors"))
    except Exception:  # noqa: BLE001  no curses, no description of this kind, no such descriptor
        return 256 if "256" in os.environ.get("TERM", "") else 16


@lru_cache(1)
def takes_utf8() -> bool:
    """Return whether letters may be written in UTF-8; asked of the terminal where nobody says."""
    if os.name == "nt" or "utf" in locale_said().lower():
        return True
    return _asked() in (None, 2)


def locale_said() -> str:
    """Return what the locale says about how letters are written, for instance `en_GB.UTF-8`."""
    everything, letters, language = (
        os.environ.get(name, "") for name in ("LC_ALL", "LC_CTYPE", "LANG")
    )
    if language in PLAINEST and letters in COERCED:
        letters = ""
    return everything or letters or language


def _asked() -> int | None:
    """Return the column that the cursor reaches after one such letter, None without an answer."""
    import termios
    import tty

    keys, screen = sys.stdin.fileno(), sys.stdout.fileno()
    try:
        if os.tcgetpgrp(keys) != os.getpgrp():
            return None  # a job in the background must not touch the terminal
        kept = termios.tcgetattr(keys)
        tty.setcbreak(keys)
    except (termios.error, OSError):
        return None
    try:
        os.write(screen, QUESTION.encode())
        answer = _answer(keys)
        os.write(screen, b"\r\x1b[K")
    finally:
        termios.tcsetattr(keys, termios.TCSADRAIN, kept)
    row, _, column = answer.rpartition(b"\x1b[")[2].rstrip(b"R").partition(b";")
    return int(column) if row.isdigit() and column.isdigit() else None


def _answer(keys: int) -> bytes:
    """Return what the terminal says to a question, as far as it comes in time."""
    answer = b""
    while not answer.endswith(b"R") and select.select([keys], [], [], PATIENCE_S)[0]:
        answer += os.read(keys, 32)
    return answer
