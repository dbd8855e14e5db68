"""The keys of a session told in lines of text: the same ones as on the play screen.

They work where standard input is a terminal; elsewhere nothing is read.
"""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

from trainer.midi.keys import PADS
from trainer.midi.terminal_keys import TerminalKeys
from trainer.practice.events import Command

if TYPE_CHECKING:
    from collections.abc import Iterator

LOOK_S = 0.004
"""How often the keyboard is looked at: a key that is a pad is stamped when it is read."""

KEYS = {
    " ": Command("toggle"),
    "r": Command("restart"),
    "+": Command("tempo", 1.0),
    "=": Command("tempo", 1.0),
    "-": Command("tempo", -1.0),
    "q": Command("quit"),
}


def commands(keys: str) -> list[Command]:
    """Return what the player asks for by keys; one that asks for nothing may be a pad."""
    return [KEYS.get(key) or Command("key", text=key) for key in keys]


def help_lines(pads: bool) -> list[str]:
    """Return the lines that tell the keys, with those that are `pads` when they are the kit."""
    if not sys.stdin.isatty():
        return []
    lines = ["Space pauses and goes on, r restarts, + and - change the tempo, q saves and ends."]
    if pads:
        voices = dict.fromkeys(PADS.values())
        keys = {voice: " ".join(key for key, v in PADS.items() if v == voice) for voice in voices}
        lines.append("Pads: " + ", ".join(f"{voice} {keys[voice]}" for voice in voices) + ".")
    return lines


@contextmanager
def listening() -> Iterator[TerminalKeys | None]:
    """Give the keyboard, or None where standard input is no terminal."""
    if sys.stdin.isatty():
        with TerminalKeys() as keyboard:
            yield keyboard
    else:
        yield None
