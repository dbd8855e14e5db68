"""The click: out through MIDI, or silent.

A click has a `kind`: `accent` (first beat of a bar), `beat`, or `sub` (between beats). `lead_s` is
how long before it is due a click is to be handed over: 0 for MIDI, which sounds when it is sent.
"""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter
from typing import Any, Protocol

from trainer.errors import BadInput
from trainer.midi import wire
from trainer.midi.plug import Plug
from trainer.midi.quality import Delays

PAUSE_S = 2.5
"""After a silence this long the output is looked for before a click, not after it."""

KINDS = ("accent", "beat", "sub")


class Click(Protocol):
    """A maker of clicks. Times are seconds on the session's clock."""

    lead_s: float

    @property
    def name(self) -> str:
        """What the click is called."""
        ...

    def open(self, zero_s: float) -> None:
        """Get ready. `zero_s` is `time.perf_counter()` at the session's second 0."""
        ...

    def send(self, kind: str, due_s: float) -> float:
        """Make one click; return when it was sent (a silent one: when it was due)."""
        ...

    def quality(self) -> dict[str, Any]:
        """Return how well clicks were kept, safe for JSON."""
        ...

    def close(self) -> None:
        """End the sound; closing twice is harmless."""
        ...


class SilentClick:
    """No sound: the beat is only seen."""

    name = "silent"
    lead_s = 0.0

    def open(self, zero_s: float) -> None:
        """Nothing to do."""

    def send(self, kind: str, due_s: float) -> float:
        """Return when the click was due."""
        return due_s

    def quality(self) -> dict[str, Any]:
        """Return nothing but the name."""
        return {"click": self.name}

    def close(self) -> None:
        """Nothing to do."""


@dataclass(frozen=True, slots=True)
class ClickSound:
    """Which notes make the click. Channels count from 1, as on the devices.

    The default is General MIDI percussion: side stick (37) and, on the first beat, claves (75).
    """

    note: int = 37
    accent_note: int = 75
    sub_note: int = 37
    channel: int = 10
    velocity: int = 90
    accent_velocity: int = 120
    sub_velocity: int = 50

    def __post_init__(self) -> None:
        for name in ("note", "accent_note", "sub_note"):
            _check(getattr(self, name), name, 0, 127)
        for name in ("velocity", "accent_velocity", "sub_velocity"):
            _check(getattr(self, name), name, 1, 127)
        _check(self.channel, "channel", 1, 16)

    def message(self, kind: str) -> wire.Message:
        """Return the note-on of a click."""
        note, velocity = {
            "accent": (self.accent_note, self.accent_velocity),
            "beat": (self.note, self.velocity),
            "sub": (self.sub_note, self.sub_velocity),
        }[kind]
        return (wire.NOTE_ON | (self.channel - 1), note, velocity)


def _check(value: int, name: str, least: int, most: int) -> None:
    if not least <= value <= most:
        raise BadInput(
            f"{value} is out of range",
            where=f"click {name.replace('_', ' ')}",
            mend=f"choose {least} to {most}",
        )


class ClickOut:
    """A click at a MIDI output. Sends at once; counts how late after it was due each one went."""

    lead_s = 0.0

    def __init__(self, wanted: str = "", sound: ClickSound | None = None) -> None:
        self.sound = sound or ClickSound()
        self.late = Delays()
        self._plug = Plug("output", wanted, "click")
        self._zero = 0.0

    @property
    def name(self) -> str:
        """The port as people see it."""
        return self._plug.name

    @property
    def lost(self) -> bool:
        """True while the port is gone."""
        return self._plug.lost

    def open(self, zero_s: float) -> None:
        """Find the output and connect. Raises BadInput when it is not there."""
        self._zero = zero_s
        self._plug.open()

    def send(self, kind: str, due_s: float) -> float:
        """Send one click now; return when it was sent, in seconds on the session's clock."""
        if self._plug.port is None:
            return due_s
        if perf_counter() - self._plug.looked_s > PAUSE_S:
            self._plug.watch(perf_counter())
        self._plug.send(self.sound.message(kind))
        sent = perf_counter()
        self.late.add(sent - self._zero - due_s)
        self._plug.watch(sent)  # looking takes time, so the click goes first
        return sent - self._zero

    def quality(self) -> dict[str, Any]:
        """Return how late clicks were sent."""
        return {"click": self.name, "sent_late": self.late.to_dict()}

    def close(self) -> None:
        """End the notes and disconnect; closing twice is harmless.

        Percussion sounds end by themselves, so no note is switched off while clicks go on: on a
        MIDI cable that would hold up the next message by a millisecond.
        """
        for kind in KINDS:
            on, note, _ = self.sound.message(kind)
            self._plug.send((wire.NOTE_OFF | (on & 0x0F), note, 64))
        self._plug.close()
