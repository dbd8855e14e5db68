"""MIDI 1.0 as bytes: cutting what a driver hands over into messages, and what a message means here.

Source of the numbers: MIDI 1.0, as given in the appendix of the Standard MIDI File text 1.1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.kit.hits import Strike
from trainer.midi.source import Control, Made

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

NOTE_OFF, NOTE_ON, KEY_PRESSURE, CONTROL = 0x80, 0x90, 0xA0, 0xB0
PROGRAM, CHANNEL_PRESSURE, BEND = 0xC0, 0xD0, 0xE0
SYSEX, SONG_POSITION, SYSEX_END = 0xF0, 0xF2, 0xF7
CLOCK, START, CONTINUE, STOP, ACTIVE_SENSING, RESET = 0xF8, 0xFA, 0xFB, 0xFC, 0xFE, 0xFF

PEDAL = 4
"""Controller of the hi-hat pedal's opening (common practice; MIDI 1.0 calls it foot controller)."""

POSITIONS = range(16, 20)
"""Controllers of the place of a strike (common practice; MIDI 1.0: general purpose 1 to 4)."""

_DATA_BYTES = {
    NOTE_OFF: 2,
    NOTE_ON: 2,
    KEY_PRESSURE: 2,
    CONTROL: 2,
    PROGRAM: 1,
    CHANNEL_PRESSURE: 1,
    BEND: 2,
    0xF1: 1,
    SONG_POSITION: 2,
    0xF3: 1,
}

Message = tuple[int, ...]


def split(data: Iterable[int]) -> Iterator[Message]:
    """Yield the complete messages in a run of bytes; what makes no message is left out.

    Running status is followed: data bytes without a status repeat the last channel message's.
    Real-time bytes (F8 and up) may stand anywhere, also inside another message. System exclusive
    is yielded whole, with its end where that came, and as far as it goes where it did not.
    """
    message: list[int] = []
    running = 0
    for byte in data:
        if byte >= CLOCK:
            yield (byte,)
            continue
        if byte >= NOTE_OFF:
            if message[:1] == [SYSEX]:
                yield (*message, byte) if byte == SYSEX_END else tuple(message)
            running = byte if byte < SYSEX else 0
            message = [byte]
        elif message or running:
            message = [*(message or [running]), byte]
        if message and len(message) > _length(message[0]):
            yield tuple(message)
            message = []
    if message[:1] == [SYSEX]:
        yield tuple(message)


def _length(status: int) -> float:
    """Data bytes that follow a status; system exclusive never ends by counting."""
    if status in (SYSEX, SYSEX_END):
        return float("inf")
    return _DATA_BYTES.get(status if status >= SYSEX else status & 0xF0, 0)


def read(message: Message, time_s: float) -> Made | None:
    """Return the strike or control a message stands for, or None. Any channel counts.

    A note-on of velocity 0 is a note-off.
    """
    kind = message[0] & 0xF0
    if kind == NOTE_ON and message[2]:
        return Strike(time_s, message[1], message[2])
    if kind == CONTROL and (message[1] == PEDAL or message[1] in POSITIONS):
        return Control(time_s, "control", message[1], message[2])
    if kind == KEY_PRESSURE:
        return Control(time_s, "choke", message[1], message[2])
    return None
