"""One MIDI message in words and bytes, for finding out what a kit sends."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.midi import midi_message

if TYPE_CHECKING:
    from trainer.kit.model import Kit
    from trainer.midi.midi_message import Message

MOST_BYTES = 16
"""The first bytes of a system exclusive message say who made it and what it is about."""

BAR_WIDTH = 16
"""Usual width of the velocity bar: one sign for 8 of 127."""

_SYSTEM = {
    midi_message.SONG_POSITION: "song position",
    midi_message.CLOCK: "clock",
    midi_message.START: "start",
    midi_message.CONTINUE: "continue",
    midi_message.STOP: "stop",
    midi_message.ACTIVE_SENSING: "active sensing",
    midi_message.RESET: "reset",
}
_CHANNEL = {
    midi_message.NOTE_OFF: "note off",
    midi_message.PROGRAM: "program",
    midi_message.CHANNEL_PRESSURE: "channel pressure",
    midi_message.BEND: "pitch bend",
}


def message_words(message: Message, kit: Kit) -> str:
    """Return a message in words: which pad, how hard, which controller."""
    kind = message[0] & 0xF0
    if message[0] == midi_message.SYSEX:
        return f"system exclusive, {len(message)} bytes"
    if message[0] >= midi_message.SYSEX:
        return _SYSTEM.get(message[0], f"system message {message[0]:02X}")
    if kind == midi_message.NOTE_ON and message[2]:
        return f"{_pad(message[1], kit)}, velocity {message[2]}"
    if kind == midi_message.NOTE_ON:
        return f"note off {message[1]} (velocity 0)"
    if kind == midi_message.KEY_PRESSURE:
        return f"choke or pressure {message[2]} on {_pad(message[1], kit)}"
    if kind == midi_message.CONTROL:
        return f"controller {message[1]}{_controller(message, kit)} at {message[2]}"
    return " ".join([_CHANNEL[kind], *map(str, message[1:])])


def message_bytes(message: Message) -> str:
    """Return the bytes of a message as they came, in hexadecimal; of a long one the first few."""
    shown = " ".join(f"{byte:02X}" for byte in message[:MOST_BYTES])
    return f"{shown} ..." if len(message) > MOST_BYTES else shown


def velocity_bar(message: Message, width: int = BAR_WIDTH) -> str:
    """Return a bar as long as a note-on is loud, at most `width`; empty for anything else."""
    if message[0] & 0xF0 != midi_message.NOTE_ON or not message[2]:
        return ""
    full, rest = divmod(message[2] * width * 2 // 127, 2)
    return "█" * full + "▌" * rest


def _pad(note: int, kit: Kit) -> str:
    pad = kit.pad(note)
    return f"{pad.voice} {pad.zone} (note {note})" if pad else f"unknown pad (note {note})"


def _controller(message: Message, kit: Kit) -> str:
    number, pedal = message[1], kit.controllers.pedal
    if pedal and number == pedal.controller:
        return f" (hi-hat pedal, {100 * pedal.opening(message[2]):.0f}% open)"
    if number == midi_message.PEDAL:
        return " (hi-hat pedal)"
    return " (strike position)" if number in midi_message.POSITIONS else ""
