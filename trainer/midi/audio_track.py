"""The audio click as samples: its sounds, and where in the sound card's stream each click belongs.

Pure. Each sound is a struck tone that dies away, made by arithmetic: a handful of sine waves with
their own decay, in 32-bit floats of -1 to 1, mono.

A sound card's callback says when the block at hand will be heard, and gets the block with the
clicks in it. The stream counts samples, so clicks are exact to the sample on the sound card's own
clock. That clock drifts against the program's, and a block that was not ready in time shifts all
that follows: when the last blocks agree on more than a little of either, the count is placed again.
"""

from __future__ import annotations

import math
from array import array
from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Tone:
    """One sound: its partials (Hz, share of the level), how long it lasts and how fast it fades.

    `fade_s` is the time in which the level falls to a third.
    """

    partials: tuple[tuple[float, float], ...]
    length_s: float
    fade_s: float


SOUNDS = {
    "wood": Tone(((1200.0, 0.6), (2450.0, 0.3), (3900.0, 0.1)), 0.040, 0.006),
    "tick": Tone(((3200.0, 0.7), (5300.0, 0.3)), 0.015, 0.002),
    "tone": Tone(((880.0, 1.0),), 0.060, 0.020),
}
"""The sounds to choose from. None is below 800 Hz, where it would hide behind the drums."""

PITCH = {"accent": 1.5, "beat": 1.0, "sub": 1.0}
LEVEL = {"accent": 1.0, "beat": 0.7, "sub": 0.35}
"""What makes the kinds of click different: a fifth higher and louder on the bar."""


def click_samples(sound: str, kind: str, rate: float, volume: float = 1.0) -> array[float]:
    """Return one click as floats at `rate` samples a second; its first sample is 0.

    `volume` is 0 to 1. Raises BadInput for an unknown sound or a volume out of range.
    """
    if sound not in SOUNDS:
        raise BadInput(
            f'there is no click sound "{sound}"', fix=f"choose one of {', '.join(SOUNDS)}"
        )
    if not 0.0 <= volume <= 1.0:
        raise BadInput(f"a volume of {volume:g} is out of range", fix="choose 0 to 1")
    tone = SOUNDS[sound]
    level = volume * LEVEL[kind]
    turns = [(2 * math.pi * hz * PITCH[kind] / rate, share) for hz, share in tone.partials]
    fade = 1.0 / (tone.fade_s * rate)
    return array(
        "f",
        (
            level * math.exp(-n * fade) * sum(share * math.sin(n * turn) for turn, share in turns)
            for n in range(round(tone.length_s * rate))
        ),
    )


FIRST_LOOK = 48
"""Blocks that are watched before the first click is placed."""

TAIL = 16
AFTER_GAP = 4
"""Blocks in a row that must agree before the count is placed again; fewer after a known gap."""

TOLERANCE_S = 0.0005
"""Difference between count and clock that is left alone: far below what anybody hears."""

_GRAIN = 16
_NEAR = 6
"""Drivers lose whole periods, which are multiples of 16 frames; a shift this near one is one."""

TOO_LATE_S = 0.050
"""A click that comes this much too late is left out: it would only confuse."""


class Placing:
    """Which frame of the stream is heard when. `moves` keeps every shift made, in seconds."""

    def __init__(self, rate: float) -> None:
        self.rate = rate
        self.moves: list[float] = []
        self._offset_s: float | None = None
        self._tail: deque[float] = deque(maxlen=FIRST_LOOK)
        self._enough = FIRST_LOOK

    def see(self, first_frame: int, heard_s: float, gap: bool = False) -> None:
        """Take in that a block's first frame will be heard at `heard_s`, or somewhat before.

        A callback can be held up, never early, so the earliest of several blocks shows the truth.
        `gap` says that the driver reported a gap before this block.
        """
        if gap and self._offset_s is not None:
            self._tail.clear()
            self._enough = AFTER_GAP
        self._tail.append(heard_s - first_frame / self.rate)
        if len(self._tail) < self._enough:
            return
        if self._offset_s is None:
            self._tail = deque(self._tail, TAIL)
        self._place(min(self._tail))
        self._enough = TAIL

    @property
    def known(self) -> bool:
        """True once frames can be placed."""
        return self._offset_s is not None

    def frame(self, due_s: float) -> int | None:
        """Return the frame that is heard at `due_s`, None while too little is known."""
        if self._offset_s is None:
            return None
        return round((due_s - self._offset_s) * self.rate)

    def _place(self, seen_s: float) -> None:
        if self._offset_s is None:
            self._offset_s = seen_s
            return
        shift = seen_s - self._offset_s
        if abs(shift) > TOLERANCE_S:
            shift = self._whole(shift)
            self.moves.append(shift)
            self._offset_s += shift

    def _whole(self, shift_s: float) -> float:
        """The shift, as a whole count of lost periods where it is near one."""
        frames = shift_s * self.rate
        near = round(frames / _GRAIN) * _GRAIN
        return near / self.rate if abs(frames - near) <= _NEAR else shift_s


class ClickTrack:
    """Hands out blocks of float samples with the clicks that were requested.

    `sounds` are the samples of each kind. `late` counts clicks requested too late to be on time,
    `left_out` those of them that were not played at all.
    """

    def __init__(self, sounds: Mapping[str, array[float]], rate: float) -> None:
        self.placing = Placing(rate)
        self.late = self.left_out = 0
        self._sounds = {kind: memoryview(s.tobytes()) for kind, s in sounds.items()}
        self._to_come: deque[tuple[float, str]] = deque()
        self._frame = 0
        self._rest: memoryview = memoryview(b"")

    def add(self, due_s: float, kind: str) -> None:
        """Let a click sound when it is due. Clicks are handed over in the order they are due."""
        self._to_come.append((due_s, kind))

    def block(self, frames: int, heard_s: float, gap: bool = False) -> bytes | bytearray:
        """Return the next block, of 4 bytes a frame, that will be heard from `heard_s` on."""
        first = self._frame
        self.placing.see(first, heard_s, gap)
        self._frame += frames
        out = bytearray(4 * frames)
        self._write(out, 0, self._rest)
        while self._to_come:
            due_s, kind = self._to_come[0]
            frame = self.placing.frame(due_s)
            if frame is None or frame >= first + frames:
                break
            self._to_come.popleft()
            self._start(out, frame - first, kind)
        return out

    def _start(self, out: bytearray, place: int, kind: str) -> None:
        """Begin a click at a place of the block; a place before it is a click that comes late."""
        if place < 0:
            self.late += 1
            if -place > TOO_LATE_S * self.placing.rate:
                self.left_out += 1
                return
        self._write(out, 4 * max(0, place), self._sounds[kind])

    def _write(self, out: bytearray, at: int, sound: memoryview) -> None:
        """Write a sound from a byte of the block on; what does not fit goes into the next one."""
        room = len(out) - at
        part = sound[:room]
        out[at:] = bytes(room)
        out[at : at + len(part)] = part
        self._rest = sound[room:]
