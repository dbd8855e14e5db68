"""The terminal: what it can do, and the only place that writes to standard output and error.

A screen needs keys from standard input, draws on standard error, and what is printed before and
after goes to standard output: all three must be a terminal. `TERM` names its kind, the system's
description of that kind (terminfo) says what it can do, and the locale says how letters are
encoded. Where the locale leaves that open, the terminal is asked.

`HANG_UP` ends the program when its terminal closes. A terminal that closes usually sends SIGHUP;
where that is ignored, or is sent to another process of the session, its descriptor still shows that
the other side hung up. A screen may be unable to end then: it waits for a terminal that takes what
is drawn. So a thread that waits for nothing else ends the program, and the engine, which sees our
end of its pipe close, saves the session.
"""

from __future__ import annotations

import codecs
import json
import os
import select
import signal
import stat
import sys
import time
from contextlib import contextmanager, suppress
from functools import lru_cache
from io import TextIOWrapper
from textwrap import wrap
from threading import Thread
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from trainer.errors import TrainerError


TRUE_COLOURS = 1 << 24

CURSOR_QUESTION = "\r\u00e9\x1b[6n"
"""One letter of two bytes, then the question where the cursor is (ECMA-48, `CPR`)."""

PLAIN_LOCALES, COERCED_LOCALES = ("", "C", "POSIX"), ("C.UTF-8", "C.utf8", "UTF-8")
"""Locales that say nothing of UTF-8, and what Python itself sets then for letters (PEP 538)."""

ANSWER_WITHIN_S = 1.0
"""How long an answer may take to come over a slow line."""


def open_closed_streams() -> None:
    """Lead standard streams that were closed before the start nowhere.

    Else the next file that is opened, a session perhaps, takes the place of one, and what a library
    prints is written into it.
    """
    while (fd := os.open(os.devnull, os.O_RDWR)) <= 2:
        os.set_inheritable(fd, True)
    os.close(fd)
    sys.stdin = sys.stdin or os.fdopen(0, closefd=False)
    sys.stdout = sys.stdout or os.fdopen(1, "w", closefd=False)
    sys.stderr = sys.stderr or os.fdopen(2, "w", closefd=False)


def flushed(status: int) -> int:
    """Write out what waits for standard output; return the exit status, 1 where it cannot be."""
    try:
        sys.stdout.flush()
    except OSError:
        lose_output()
        return status or 1
    return status


def lose_output() -> None:
    """Lead what is still to be printed nowhere, where nobody takes it: Python would complain."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)


def can_draw() -> bool:
    """Return True where all streams are a terminal, and of a kind that can move its cursor."""
    streams = (sys.stdin, sys.stdout, sys.stderr)
    kind = "nt" if os.name == "nt" else os.environ.get("TERM", "")
    return all(one.isatty() for one in streams) and kind not in ("", "dumb", "unknown")


def keys_can_be_read() -> bool:
    """Return True where keys come from a terminal of ours, not of a job in the background."""
    if not sys.stdin.isatty():
        return False
    if sys.platform == "win32":
        return True
    try:
        return os.tcgetpgrp(sys.stdin.fileno()) == os.getpgrp()
    except OSError:  # a terminal, but not the one that controls this program
        return False


def colour_count() -> int:
    """Return how many colours the terminal shows; 0 for one without colour."""
    if os.environ.get("COLORTERM") or os.name == "nt":
        return TRUE_COLOURS
    try:
        import curses

        curses.setupterm(os.environ.get("TERM", ""), sys.__stdout__.fileno())  # type: ignore[union-attr]
        return max(0, curses.tigetnum("colors"))
    except Exception:  # noqa: BLE001  no curses, no description of this kind, no such descriptor
        return 256 if "256" in os.environ.get("TERM", "") else 16


@lru_cache(1)
def supports_utf8() -> bool:
    """Return whether letters may be written in UTF-8; the terminal is asked where nothing says."""
    if os.name == "nt" or "utf" in locale_encoding().lower():
        return True
    return _cursor_column() in (None, 2)


def locale_encoding() -> str:
    """Return what the locale says about how letters are written, for instance `en_GB.UTF-8`."""
    everything, letters, language = (
        os.environ.get(name, "") for name in ("LC_ALL", "LC_CTYPE", "LANG")
    )
    if language in PLAIN_LOCALES and letters in COERCED_LOCALES:
        letters = ""
    return everything or letters or language


def _cursor_column() -> int | None:
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
        os.write(screen, CURSOR_QUESTION.encode())
        answer = _terminal_answer(keys)
        os.write(screen, b"\r\x1b[K")
    finally:
        termios.tcsetattr(keys, termios.TCSADRAIN, kept)
    row, _, column = answer.rpartition(b"\x1b[")[2].rstrip(b"R").partition(b";")
    return int(column) if row.isdigit() and column.isdigit() else None


def _terminal_answer(keys: int) -> bytes:
    """Return what the terminal says to a question, as far as it comes in time."""
    answer = b""
    while not answer.endswith(b"R") and select.select([keys], [], [], ANSWER_WITHIN_S)[0]:
        answer += os.read(keys, 32)
    return answer


def _plain(value: Any) -> Any:
    """Return one of NumPy's numbers as Python's own."""
    from trainer.typed_json import plain_number

    return plain_number(value)


_encode_json = json.JSONEncoder(allow_nan=False, default=_plain).encode
_JSON_DEPTH = 3
"""How deep JSON is spread over lines; what is deeper is on one."""


def printable(text: str) -> str:
    """Return text from outside with everything a terminal would act on made visible.

    Control characters (C0 without newline and tab, DEL, C1) and bidirectional overrides become
    a question mark in angle brackets, so a title can neither move the cursor nor recolour a line.
    """
    return "".join(
        c if c in "\n\t" or (c.isprintable() and not 0x202A <= ord(c) <= 0x202E) else "<?>"
        for c in text
    )


def has_screen() -> bool:
    """Return True where a screen can be drawn and steered; elsewhere lines of text take its place.

    A terminal without UTF-8 is shown why, in letters that it has.
    """

    if not can_draw():
        return False
    if supports_utf8():
        return True
    if sys.stdout.encoding != "ascii":
        spell_missing_letters("ascii")
        print_warning("This terminal has no UTF-8, which screens need: plain text instead.")
    return False


SPELLINGS = {
    "–": "-",
    "—": "-",
    "“": '"',
    "”": '"',
    "’": "'",
    "→": "->",
    "±": "+-",
    "µ": "u",
    "×": "x",
}
"""Our signs, spelled for terminals that have only some letters."""


def spell_missing_letters(encoding: str | None = None) -> None:
    """From now on write letters that an encoding lacks as near as it can, and never fail at one."""
    codecs.register_error("plainly", _spelt)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(encoding=encoding or stream.encoding, errors="plainly")


def _spelt(error: UnicodeError) -> tuple[str, int]:
    """Spell what cannot be encoded."""
    assert isinstance(error, UnicodeEncodeError)
    lost = error.object[error.start : error.end]
    return "".join(SPELLINGS.get(letter, "?") for letter in lost), error.end


def print_line(text: str = "") -> None:
    """Write a line to standard output, safe for a terminal."""
    sys.stdout.write(printable(text) + "\n")
    sys.stdout.flush()


def print_lines(texts: Iterable[str]) -> None:
    """Write several lines to standard output."""
    for text in texts:
        print_line(text)


def print_words(texts: Iterable[str], indent: int = 2) -> None:
    """Write lines of words to standard output, those that are too long on several lines."""
    for text in texts:
        print_lines(wrapped(text, indent))


WIDEST_LINE = 79
"""Columns of a line of words."""


def wrapped(line: str, indent: int = 2) -> list[str]:
    """Return a line as lines of at most `WIDEST_LINE` columns, all but the first set in."""
    start = len(line) - len(line.lstrip())
    # A path stays whole, to be copied.
    return wrap(
        line,
        WIDEST_LINE,
        subsequent_indent=" " * (start + indent),
        break_long_words=False,
        break_on_hyphens=False,
    ) or [line]


def print_json(value: Any) -> None:
    """Write one JSON document to standard output. A NaN is a fault of ours and raises.

    It is plain ASCII, so that texts from outside cannot drive the terminal here either.
    """
    sys.stdout.write("".join(_json_parts(value, 0)) + "\n")


def _json_parts(value: Any, depth: int) -> Iterator[str]:
    """Yield a value as JSON, its keys a line each, and each item of a list on one line.

    The standard library's own indenting takes twice as long, which long patterns make felt.
    """
    spread = isinstance(value, (dict, list)) and value and depth < _JSON_DEPTH
    if isinstance(value, dict) and spread:
        edge, rows = "{}", ((f"{json.dumps(str(key))}: ", one) for key, one in value.items())
    elif isinstance(value, list) and spread and isinstance(value[0], (dict, list)):
        edge, rows = "[]", (("", one) for one in value)
    else:
        yield _encode_json(value)
        return
    indent = " " * (depth + 1)
    yield edge[0]
    for at, (name, one) in enumerate(rows):
        yield f"{',' if at else ''}\n{indent}{name}"
        yield from _json_parts(one, depth + 1 if edge == "{}" else _JSON_DEPTH)
    yield f"\n{' ' * depth}{edge[1]}"


def print_error(error: TrainerError) -> int:
    """Write an error as plain sentences to standard error; return the exit status."""
    sys.stderr.write(printable(str(error)) + "\n")
    return error.status


def print_passing(text: str) -> None:
    """Show what is being done, over what was shown before; only where somebody watches."""
    if sys.stderr.isatty():
        sys.stderr.write("\r\x1b[K" + printable(text))
        sys.stderr.flush()


def print_warning(text: str) -> None:
    """Write a warning to standard error."""
    sys.stderr.write(printable(text) + "\n")


LOOK_S = 0.15
"""How often the terminal is looked at."""

GRACE_S = 0.8
"""How long the program may take to end once its terminal is closed."""

CLOSED = 129
"""Exit status of a program that a hang-up ended, as shells give it."""


class HangUp:
    """Whether whoever sees the program has gone: the terminal closed, or the reader of a pipe.

    `seen` is set by SIGHUP too, which has no other meaning for a program with a terminal.
    """

    def __init__(self) -> None:
        self.seen = False
        self._ends: list[Callable[[], object]] = []
        self._watching = False

    @property
    def gone(self) -> bool:
        """True once nobody sees the program any more; what it cannot write then is no fault."""
        streams = (sys.__stdin__, sys.__stdout__) if hasattr(select, "poll") else ()
        return self.seen or any(closed(one) for one in streams)

    def watch(self) -> None:
        """Watch from now on, in a thread of its own; on Windows nothing can be watched."""
        if hasattr(select, "poll"):
            self._watching = True
            Thread(target=self._run, name="hang-up", daemon=True).start()

    @contextmanager
    def ending(self, end: Callable[[], object]) -> Iterator[None]:
        """While it holds, `end` is called once after a hang-up, from the thread that watches."""
        self._ends.append(end)
        before = signal.signal(signal.SIGHUP, self._signalled) if self._watching else None
        try:
            yield
        finally:
            self._ends.remove(end)
            if self._watching:
                signal.signal(signal.SIGHUP, before)

    def _signalled(self, *_: object) -> None:
        self.seen = True

    def _run(self) -> None:
        while not self.gone:
            time.sleep(LOOK_S)
        for end in [*self._ends]:
            with suppress(Exception):
                end()
        if self.seen or closed(sys.__stdin__):
            time.sleep(GRACE_S)
            os._exit(CLOSED)


HANG_UP = HangUp()


def closed(stream: Any) -> bool:
    """Return whether the other side of a terminal is closed, or of a pipe that we write to.

    A pipe that we read from may end: that says nothing about who looks on. A terminal that is
    closed already is none any more for `isatty`; it still is a device of characters.
    """
    try:
        descriptor = stream.fileno()
        ours = stream.writable() or stat.S_ISCHR(os.fstat(descriptor).st_mode)
    except (AttributeError, OSError, ValueError):  # no such stream, or closed by ourselves
        return False
    poll = select.poll()
    poll.register(descriptor, 0)
    return ours and any(found & (select.POLLHUP | select.POLLERR) for _, found in poll.poll(0))
