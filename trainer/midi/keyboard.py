"""The computer keyboard as a kit, so that anyone can try the program; and reading single keys.

The rows of keys are the kit seen from the stool: cymbals and toms far, hi-hat, snare and floor tom
near, the feet below, each where it is on a right-handed kit, with two neighbouring keys so that
hands can alternate. Keys that a session needs itself (space, r, q, z) are no pads. A capital letter
is a loud stroke. Keys are known by the characters they make, so the layout moves
with the language of the keyboard.

`TerminalKeys` reads keys from the terminal without waiting, for playing without a screen.
"""

from __future__ import annotations

import os
import select
import sys
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from trainer.errors import BadInput
from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.kit.voices import full_zone
from trainer.midi.hit_source import HitSource

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainer.midi.connection import PortWatch
    from trainer.midi.hit_source import SourceEvent


KEY_ROWS = (
    (("w e", "crash"), ("t y", "tom1"), ("u i", "tom2"), ("o p", "ride")),
    (("a s", "hihat"), ("g h", "snare"), ("k l", "floor")),
    (("c v", "pedal"), ("n m", "kick")),
)
"""The keys as a kit looks from the stool, left to right, far to near; two keys a drum."""

KEY_VOICES = {key: voice for row in KEY_ROWS for keys, voice in row for key in keys.split()}
"""Which voice a key plays."""

VELOCITY, LOUD = 80, 118

RESOLUTION_MS = 8.0
"""The finest time keys can be trusted with: a USB keyboard is asked every 8 ms or so (common
practice, no source)."""

KIT_OFFER = "{} is connected. To play on it: q, then start again"


def key_rows(*, left_handed: bool = False) -> tuple[tuple[tuple[str, str], ...], ...]:
    """Return the keys of each voice, row by row; mirrored for a left-handed kit."""
    if not left_handed:
        return KEY_ROWS
    return tuple(
        tuple((keys, voice) for (keys, _), (_, voice) in zip(row, reversed(row), strict=True))
        for row in KEY_ROWS
    )


def key_notes(*, left_handed: bool = False) -> dict[str, int]:
    """Return the General MIDI note of each key."""
    voices = {
        key: voice
        for row in key_rows(left_handed=left_handed)
        for keys, voice in row
        for key in keys.split()
    }
    found = {key: GENERAL_MIDI.note(voice, full_zone(voice, "")) for key, voice in voices.items()}
    return {key: note for key, note in found.items() if note is not None}


class KeySource(HitSource):
    """Strikes from keys that a screen or a terminal reader hands in with `press`.

    `left_handed` mirrors the keys. With `offer` it looks out for a kit that is plugged in
    meanwhile, and offers it.
    """

    name = "keys"
    resolution_ms = RESOLUTION_MS

    def __init__(
        self,
        table: Mapping[str, int] | None = None,
        *,
        offer: bool = False,
        left_handed: bool = False,
    ) -> None:
        own = key_notes(left_handed=left_handed)
        self._table = own if table is None else dict(table)
        self.left_handed = left_handed
        self._pressed: list[SourceEvent] = []
        self._offer = offer
        self._watch: PortWatch | None = None

    def open(self, zero_s: float) -> None:
        """Begin to look out for kits, where that is wanted."""
        if self._offer:
            from trainer.midi.connection import PortWatch

            # A try that fails takes too long for the loop that plays.
            self._watch = PortWatch(retry=False)
            self._watch.arrived()

    def press(self, key: str, now_s: float) -> bool:
        """Take a key pressed at a time on the session's clock; return whether it is a pad."""
        note = self._table.get(key, self._table.get(key.lower()))
        if note is None:
            return False
        loud = key != key.lower()
        self._pressed.append(Strike(now_s, note, LOUD if loud else VELOCITY))
        return True

    def poll(self, now_s: float) -> list[SourceEvent]:
        """Return the strikes since the last call."""
        del now_s
        pressed, self._pressed = self._pressed, []
        return pressed

    def news(self) -> list[str]:
        """Return what the player should know: a kit that was plugged in."""
        return [KIT_OFFER.format(name) for name in self._watch.arrived()] if self._watch else []

    def quality(self) -> dict[str, Any]:
        """Return what keys are worth: a terminal gives no time, so stamps are those of reading."""
        return {"system": "keys", "stamped": "when read"}

    def close(self) -> None:
        """Look out no longer; closing twice is harmless."""
        watch, self._watch = self._watch, None
        if watch:
            watch.close()


KEY_LOOK_S = 0.005
"""How often keys are looked for where they cannot be waited for."""


class TerminalKeys:
    """The keys pressed since the last look. A context manager that gives the terminal back."""

    def __enter__(self) -> TerminalKeys:
        if not sys.stdin.isatty():
            raise BadInput(
                "keys can only be read from a terminal",
                where="--port keys",
                fix="run it in a terminal, or name a MIDI port",
            )
        self._kept = None if sys.platform == "win32" else _single_keys()
        return self

    def __exit__(self, *_: object) -> None:
        if self._kept is not None:
            import termios

            with suppress(termios.error):  # the terminal is closed
                termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, self._kept)

    def wait(self, seconds: float) -> bool:
        """Wait until a key is typed, at most so long; return whether one is known to be there."""
        if sys.platform == "win32":
            time.sleep(min(seconds, KEY_LOOK_S))
            return False
        return bool(select.select([sys.stdin.fileno()], [], [], seconds)[0])

    def read(self) -> str:
        """Return the characters typed since the last call, at once."""
        if sys.platform == "win32":
            return _read_windows()
        fd = sys.stdin.fileno()
        try:
            typed = os.read(fd, 1024) if select.select([fd], [], [], 0)[0] else b""
        except OSError:  # the terminal is closed
            typed = b""
        return typed.decode(errors="ignore")


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
