"""The click: out through MIDI, through the sound card, or silent.

A click has a `kind`: `accent` (first beat of a bar), `beat`, or `sub` (between beats). `lead_s` is
how long before it is due a click is to be handed over: 0 for MIDI, which sounds when it is sent.
The sound card is played by a process of its own, `trainer.midi.audio_process`.

`StrokeSounds` lets strokes be heard at a MIDI output, for pads and keys that make no sound of their
own.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from time import perf_counter
from typing import TYPE_CHECKING, Any, Protocol

from trainer.errors import BadInput
from trainer.kit.model import GENERAL_MIDI
from trainer.midi import midi_message
from trainer.midi.connection import Connection
from trainer.midi.timing import Delays

if TYPE_CHECKING:
    from trainer.kit.hits import Strike
    from trainer.kit.model import Kit

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
            _check_range(getattr(self, name), name, 0, 127)
        for name in ("velocity", "accent_velocity", "sub_velocity"):
            _check_range(getattr(self, name), name, 1, 127)
        _check_range(self.channel, "channel", 1, 16)

    def message(self, kind: str) -> midi_message.Message:
        """Return the note-on of a click."""
        note, velocity = {
            "accent": (self.accent_note, self.accent_velocity),
            "beat": (self.note, self.velocity),
            "sub": (self.sub_note, self.sub_velocity),
        }[kind]
        return (midi_message.NOTE_ON | (self.channel - 1), note, velocity)


def _check_range(value: int, name: str, least: int, most: int) -> None:
    if not least <= value <= most:
        raise BadInput(
            f"{value} is out of range",
            where=f"click {name.replace('_', ' ')}",
            fix=f"choose {least} to {most}",
        )


class _Output:
    """A MIDI output that notes go to, and how late (`late`) each one went."""

    def __init__(self, wanted: str, role: str) -> None:
        self.late = Delays()
        self._plug = Connection("output", wanted, role)
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


class ClickOut(_Output):
    """A click at a MIDI output. Sends at once; counts how late after it was due each one went."""

    lead_s = 0.0

    def __init__(self, wanted: str = "", sound: ClickSound | None = None) -> None:
        self.sound = sound or ClickSound()
        super().__init__(wanted, "click")

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

        Percussion sounds end on their own, so no note is switched off while clicks continue: on a
        MIDI cable that would hold up the next message by a millisecond.
        """
        for kind in KINDS:
            on, note, _ = self.sound.message(kind)
            self._plug.send((midi_message.NOTE_OFF | (on & 0x0F), note, 64))
        self._plug.close()


SOUND_CHANNEL = 10
"""The channel of percussion in General MIDI, counted from 1."""


class StrokeSounds(_Output):
    """General MIDI notes for the strokes of a kit, sent as soon as a stroke is read.

    `late` is how long after the stroke its note was sent; what the sound module takes comes on top.
    """

    def __init__(self, wanted: str, kit: Kit) -> None:
        super().__init__(wanted, "sounds")
        self._notes = {note: sounding_note(kit, note) for note in kit.notes}

    def strike(self, strike: Strike) -> None:
        """Let one stroke be heard; notes that the kit does not know are sent as they are."""
        note = self._notes.get(strike.note, strike.note)
        self._plug.send((midi_message.NOTE_ON | (SOUND_CHANNEL - 1), note, strike.velocity))
        sent = perf_counter()
        self.late.add(sent - self._zero - strike.time_s)
        self._plug.watch(sent)

    def quality(self) -> dict[str, Any]:
        """Return how long after the strokes their notes were sent."""
        return {"port": self.name, "sent_late": self.late.to_dict()}

    def words(self) -> str:
        """Return the delay in a sentence, empty without a stroke."""
        if not self.late.count:
            return ""
        usual, most = ((self.late.share(part) or 0.0) * 1000 for part in (0.5, 0.99))
        return f"Sounds left {usual:.1f} ms after the stroke (99% within {most:.1f} ms)."

    def close(self) -> None:
        """Disconnect; closing twice is harmless. Percussion sounds end on their own."""
        self._plug.close()


def sounding_note(kit: Kit, note: int) -> int:
    """Return the General MIDI note that sounds like a note of a kit, itself where none does."""
    pad = kit.notes[note]
    found = GENERAL_MIDI.note(pad.voice, pad.zone)
    return note if found is None else found


AUDIO_START_S = 20.0
"""How long the audio process may take to be ready."""


class AudioClick:
    """A click on a sound card, heard when it is due: the card's latency is taken into account.

    `sound` is one of `click_sounds.SOUNDS`, `volume` 0 to 1, `device` a part of a sound output's
    name (empty: the system's default).
    """

    name = "audio"
    lead_s = 0.15

    def __init__(self, sound: str = "wood", volume: float = 0.8, device: str = "") -> None:
        self.sound, self.volume, self.device = sound, volume, device
        self.lost = False
        self._process: subprocess.Popen[str] | None = None
        self._about: dict[str, Any] = {}
        self._zero = 0.0

    def open(self, zero_s: float) -> None:
        """Start the audio process. Raises BadInput, with the next best way, where it cannot."""
        self._zero = zero_s
        command = [sys.executable, "-P", "-m", "trainer.midi.audio_process"]
        self._process = subprocess.Popen(
            [*command, self.sound, str(self.volume), self.device],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )
        self._about = self._answer()
        if "latency_ms" not in self._about:
            self.close()
            raise BadInput(
                self._about.get("fault", "the audio process ended before it was ready"),
                where="audio click",
                fix=self._about.get("fix", "use a MIDI click, or none"),
            )

    def send(self, kind: str, due_s: float) -> float:
        """Hand one click over, `lead_s` before it is due; return when it is heard.

        When the audio process has died the click continues in silence and `lost` is true.
        """
        if self._process is None or self._process.stdin is None or self.lost:
            return due_s
        try:
            self._process.stdin.write(f"{due_s + self._zero!r} {kind}\n")
            self._process.stdin.flush()
        except OSError:
            self.lost = True
        return due_s

    def quality(self) -> dict[str, Any]:
        """Return what is known about the sound output; after closing also how it went."""
        return {"click": self.name, "lost": self.lost, **self._about}

    def close(self) -> None:
        """End the audio process and keep its figures; closing twice is harmless."""
        process, self._process = self._process, None
        if process is None:
            return
        try:
            out, _ = process.communicate(timeout=3)
        except (subprocess.TimeoutExpired, OSError):
            process.kill()
            process.wait()
            return
        last = out.strip().splitlines()[-1:]
        if last:
            self._about |= json.loads(last[0])

    def _answer(self) -> dict[str, Any]:
        """The process's first line; nothing where it died or does not answer in time."""
        assert self._process
        assert self._process.stdout
        from threading import Timer

        # A library that hangs while it looks for devices must not hang the program.
        killer = Timer(AUDIO_START_S, self._process.kill)
        killer.start()
        line = self._process.stdout.readline()
        killer.cancel()
        answer: dict[str, Any] = json.loads(line) if line else {}
        return answer
