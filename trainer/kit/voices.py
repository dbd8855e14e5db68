"""The voices of a kit, one row each, and which limbs and zones belong to them.

The row order is the order grids and tabs are drawn in, cymbals on top and feet below, as drummers
write them. General MIDI notes are in `trainer.kit.model`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from trainer.checked import nearest, shortened
from trainer.errors import BadInput


@dataclass(frozen=True, slots=True)
class Voice:
    """One voice: its name in files, the two letters of a tab row, its zones, who plays it.

    The first zone is the ordinary one, meant when a pattern names none. `foot` is True where a
    foot plays it. `place` shows roughly where it is, in metres right of and in front of the
    stool of a right-handed kit: common practice, used only to separate near drums from far ones.
    """

    name: str
    tab: str
    title: str
    zones: tuple[str, ...]
    foot: bool = False
    place: tuple[float, float] = (0.0, 0.0)


CHOKE = "choke"
"""The zone of a cymbal that is grabbed to silence it: no stroke, and without power."""

_ROWS = (
    Voice("crash", "CC", "crash", ("edge", "bow", "bell", CHOKE), place=(-0.45, 0.75)),
    Voice("crash2", "C2", "second crash", ("edge", "bow", "bell", CHOKE), place=(0.45, 0.85)),
    Voice("china", "CH", "china", ("edge", "bow", CHOKE), place=(0.85, 0.7)),
    Voice("splash", "SP", "splash", ("edge", "bow", CHOKE), place=(0.0, 0.9)),
    Voice("ride", "RD", "ride", ("bow", "bell", "edge", CHOKE), place=(0.65, 0.55)),
    Voice("ride2", "R2", "second ride", ("bow", "bell", "edge", CHOKE), place=(0.75, 0.65)),
    Voice(
        "hihat", "HH", "hi-hat", ("closed", "open", "half-open", "edge", "bell"), place=(-0.4, 0.35)
    ),
    Voice("cowbell", "CB", "cowbell", ("head",), place=(0.1, 0.7)),
    Voice("tambourine", "TA", "tambourine", ("head",), place=(-0.2, 0.7)),
    Voice("tom0", "T0", "small tom", ("head", "rim"), place=(-0.3, 0.6)),
    Voice("tom1", "T1", "high tom", ("head", "rim"), place=(-0.12, 0.6)),
    Voice("tom2", "T2", "middle tom", ("head", "rim"), place=(0.2, 0.6)),
    Voice("tom3", "T3", "third tom", ("head", "rim"), place=(0.45, 0.5)),
    Voice("snare", "SN", "snare", ("head", "rim", "cross-stick"), place=(0.0, 0.3)),
    Voice("floor", "FT", "floor tom", ("head", "rim"), place=(0.5, 0.15)),
    Voice("floor2", "F2", "second floor tom", ("head", "rim"), place=(0.6, -0.2)),
    Voice("kick", "BD", "kick", ("head",), foot=True, place=(0.1, 0.6)),
    Voice("kick2", "B2", "left kick", ("head",), foot=True, place=(-0.15, 0.6)),
    Voice("pedal", "HF", "hi-hat pedal", ("closed",), foot=True, place=(-0.35, 0.4)),
)

VOICES: dict[str, Voice] = {voice.name: voice for voice in _ROWS}
CHOKED = tuple(voice.name for voice in _ROWS if CHOKE in voice.zones)
"""The voices that can be choked."""

ROW: dict[str, int] = {voice.name: row for row, voice in enumerate(_ROWS)}


def drum_distance(one: str, two: str) -> float:
    """Return how far apart two voices are on an ordinary kit, in metres."""
    return math.dist(VOICES[one].place, VOICES[two].place)


def full_zone(voice: str, zone: str) -> str:
    """Return the zone meant: the voice's ordinary one where none is named."""
    return zone or VOICES[voice].zones[0]


def place_named(text: str) -> tuple[str, str]:
    """Return voice and zone of `snare` or `snare/rim`; the zone is empty where none is named.

    Raises BadInput for a voice or zone that there is not.
    """
    if ":" in text:
        now = shortened(text.replace(":", "/"))
        raise BadInput(f'"{shortened(text)}" is the old spelling', fix=f'write "{now}"')
    voice, slash, zone = text.partition("/")
    if voice not in VOICES:
        raise BadInput(f'there is no voice "{shortened(voice)}"', fix=nearest(voice, VOICES))
    zones = VOICES[voice].zones
    if slash and zone not in zones:
        raise BadInput(
            f'the {voice} has no zone "{shortened(zone)}"', fix=f"it has {', '.join(zones)}"
        )
    return voice, zone


def place_text(voice: str, zone: str) -> str:
    """Return a voice with a zone on it as `place_named` reads them; no zone is named for ""."""
    return f"{voice}/{zone}" if zone else voice
