"""Pads that act as keys, so that nobody has to put the sticks down.

A pad on a voice that the pattern never uses is a key at any time. One that the pattern uses is
music while something is asked, and a key only in pauses, rests and count-ins.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES
from trainer.practice.events import Command

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from trainer.kit.hits import Strike
    from trainer.kit.note_map import Kit

QUIET_S = 0.5
"""A pad acts once in this time, whatever its trigger sends."""


GOING_ON = ("next", "toggle", "resume")
"""What pads can stand for that goes on where something waits."""


def pad_names(table: Mapping[int, str], kit: Kit, commands: Collection[str]) -> str:
    """Return the pads that stand for one of some commands in words: "Crash", "Crash or note 31"."""
    notes = [note for note, command in table.items() if command in commands]
    pads = [(kit.pad(note), note) for note in notes]
    named = [VOICES[pad.voice].title if pad else f"note {note}" for pad, note in pads]
    return " or ".join(dict.fromkeys(named))


class PadKeys:
    """The commands that MIDI notes stand for."""

    def __init__(self, table: Mapping[int, str], kit: Kit, used: Collection[str]) -> None:
        self._table, self._kit, self._used = table, kit, used
        self._acted_s = float("-inf")

    def is_key(self, strike: Strike, asked: bool) -> bool:
        """Return True where a strike is a key press. `asked`: strokes are being judged just now."""
        if strike.note not in self._table:
            return False
        pad = self._kit.pad(strike.note, self._used)
        return not (asked and pad and pad.voice in self._used)

    def press(self, strike: Strike) -> Command | None:
        """Return what a key press asks for; nothing where it comes right after another one."""
        if strike.time_s < self._acted_s + QUIET_S:
            return None
        self._acted_s = strike.time_s
        return Command(self._table[strike.note])
