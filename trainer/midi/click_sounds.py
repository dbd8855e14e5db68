"""The sounds of the audio click, made by arithmetic: a struck tone that dies away.

Each sound is a handful of sine waves with their own decay, in 32-bit floats of -1 to 1, mono.
"""

from __future__ import annotations

import math
from array import array
from dataclasses import dataclass

from trainer.errors import BadInput


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


def samples(sound: str, kind: str, rate: float, volume: float = 1.0) -> array[float]:
    """Return one click as floats at `rate` samples a second; its first sample is 0.

    `volume` is 0 to 1. Raises BadInput for an unknown sound or a volume out of range.
    """
    if sound not in SOUNDS:
        raise BadInput(
            f'there is no click sound "{sound}"', mend=f"choose one of {', '.join(SOUNDS)}"
        )
    if not 0.0 <= volume <= 1.0:
        raise BadInput(f"a volume of {volume:g} is out of range", mend="choose 0 to 1")
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
