"""The only place that writes to standard output and standard error, and picks the exit status."""

from __future__ import annotations

import codecs
import json
import sys
from io import TextIOWrapper
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from trainer.errors import TrainerError


_encoded = json.JSONEncoder(allow_nan=False).encode
_JSON_DEPTH = 3
"""How deep JSON is spread over lines; what lies deeper stands on one."""


def plain(text: str) -> str:
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

    A terminal without UTF-8 is told why it gets them, in letters that it has.
    """
    from trainer import abilities

    if not abilities.can_draw():
        return False
    if abilities.takes_utf8():
        return True
    if sys.stdout.encoding != "ascii":
        write_plainly("ascii")
        warn("This terminal takes no UTF-8, which the screens are drawn with; here is plain text.")
    return False


SPELT = {"–": "-", "—": "-", "“": '"', "”": '"', "’": "'", "→": "->", "±": "+-", "µ": "u", "×": "x"}
"""Signs of ours as they are written where the terminal has only some letters."""


def write_plainly(encoding: str | None = None) -> None:
    """From now on write letters that an encoding lacks as near as it can, and never fail at one."""
    codecs.register_error("plainly", _plainly)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(encoding=encoding or stream.encoding, errors="plainly")


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """Spell what cannot be encoded."""
    assert isinstance(error, UnicodeEncodeError)
    lost = error.object[error.start : error.end]
    return "".join(SPELT.get(letter, "?") for letter in lost), error.end


def say(text: str = "") -> None:
    """Write a line to standard output, safe for a terminal."""
    sys.stdout.write(plain(text) + "\n")
    sys.stdout.flush()


def lines(texts: Iterable[str]) -> None:
    """Write several lines to standard output."""
    for text in texts:
        say(text)


def as_json(value: Any) -> None:
    """Write one JSON document to standard output. A NaN is a fault of ours and raises.

    It is plain ASCII, so that texts from outside cannot drive the terminal here either.
    """
    sys.stdout.write("".join(_json(value, 0)) + "\n")


def _json(value: Any, depth: int) -> Iterator[str]:
    """Yield a value as JSON, its keys a line each, and each item of a list on one line.

    The standard library's own indenting takes twice as long, which long patterns make felt.
    """
    spread = isinstance(value, (dict, list)) and value and depth < _JSON_DEPTH
    if isinstance(value, dict) and spread:
        edge, rows = "{}", ((f"{json.dumps(str(key))}: ", one) for key, one in value.items())
    elif isinstance(value, list) and spread and isinstance(value[0], (dict, list)):
        edge, rows = "[]", (("", one) for one in value)
    else:
        yield _encoded(value)
        return
    indent = " " * (depth + 1)
    yield edge[0]
    for at, (name, one) in enumerate(rows):
        yield f"{',' if at else ''}\n{indent}{name}"
        yield from _json(one, depth + 1 if edge == "{}" else _JSON_DEPTH)
    yield f"\n{' ' * depth}{edge[1]}"


def complain(error: TrainerError) -> int:
    """Write an error as plain sentences to standard error; return the exit status."""
    sys.stderr.write(plain(str(error)) + "\n")
    return error.status


def warn(text: str) -> None:
    """Write a remark to standard error."""
    sys.stderr.write(plain(text) + "\n")
