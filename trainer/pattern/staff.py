"""Where each voice and zone stands on a percussion staff, and with which notehead.

One row each, after the Percussive Arts Society's recommendation as drum books print it (common
practice): kick in the bottom space, snare in the third, toms around it, cymbals on top with
crosses, an open hi-hat with a circled cross, a bell with a diamond, a rim with a slash.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES

if TYPE_CHECKING:
    from collections.abc import Iterable


@dataclass(frozen=True, slots=True)
class Spot:
    """A place on the staff: step and octave as in treble clef, and a MusicXML notehead."""

    step: str
    octave: int
    head: str = "normal"


SPOTS: dict[tuple[str, str], Spot] = {
    ("splash", "edge"): Spot("D", 6, "x"),
    ("splash", "bow"): Spot("D", 6, "cross"),
    ("china", "edge"): Spot("C", 6, "x"),
    ("china", "bow"): Spot("C", 6, "cross"),
    ("crash2", "edge"): Spot("B", 5, "x"),
    ("crash2", "bow"): Spot("B", 5, "cross"),
    ("crash2", "bell"): Spot("B", 5, "diamond"),
    ("crash", "edge"): Spot("A", 5, "x"),
    ("crash", "bow"): Spot("A", 5, "cross"),
    ("crash", "bell"): Spot("A", 5, "diamond"),
    ("hihat", "closed"): Spot("G", 5, "x"),
    ("hihat", "open"): Spot("G", 5, "circle-x"),
    ("hihat", "edge"): Spot("G", 5, "cross"),
    ("hihat", "bell"): Spot("G", 5, "diamond"),
    ("ride", "bow"): Spot("F", 5, "x"),
    ("ride", "edge"): Spot("F", 5, "cross"),
    ("ride", "bell"): Spot("F", 5, "diamond"),
    ("ride2", "bow"): Spot("D", 5, "x"),
    ("ride2", "edge"): Spot("D", 5, "cross"),
    ("ride2", "bell"): Spot("D", 5, "diamond"),
    ("cowbell", "head"): Spot("E", 5, "x"),
    ("tambourine", "head"): Spot("B", 4, "x"),
    ("tom0", "head"): Spot("F", 5),
    ("tom0", "rim"): Spot("F", 5, "slash"),
    ("tom1", "head"): Spot("E", 5),
    ("tom1", "rim"): Spot("E", 5, "slash"),
    ("tom2", "head"): Spot("D", 5),
    ("tom2", "rim"): Spot("D", 5, "slash"),
    ("snare", "head"): Spot("C", 5),
    ("snare", "rim"): Spot("C", 5, "slash"),
    ("snare", "cross-stick"): Spot("C", 5, "x"),
    ("tom3", "head"): Spot("B", 4),
    ("tom3", "rim"): Spot("B", 4, "slash"),
    ("floor", "head"): Spot("A", 4),
    ("floor", "rim"): Spot("A", 4, "slash"),
    ("floor2", "head"): Spot("G", 4),
    ("floor2", "rim"): Spot("G", 4, "slash"),
    ("kick", "head"): Spot("F", 4),
    ("kick2", "head"): Spot("E", 4),
    ("pedal", "closed"): Spot("D", 4, "x"),
}

HEADS = {
    "slash": "slash",
    "diamond": "diamond",
    "circle-x": "circled cross",
    "cross": "plus",
    "x": "cross",
}
"""What noteheads look like, in words."""

_AT = {(spot.step, spot.octave, spot.head): at for at, spot in reversed(SPOTS.items())}
_LINE = {
    (spot.step, spot.octave, spot.head == "normal"): at for at, spot in reversed(SPOTS.items())
}


def spot_of(voice: str, zone: str) -> Spot:
    """Return where a voice and zone stand; a zone without a row stands at the ordinary one."""
    ordinary = SPOTS[voice, VOICES[voice].zones[0]]
    return SPOTS.get((voice, zone), ordinary) if zone else ordinary


def key(drums: Iterable[tuple[str, str]]) -> list[str]:
    """Return what the noteheads of zones mean, in lines such as `diamond: bell, slash: rim`.

    `drums` are the voices and zones used. Two heads a line are no wider than a short bar.
    """
    zones = [(spot_of(*drum), drum[1]) for drum in drums if spot_of(*drum) != spot_of(drum[0], "")]
    words = sorted({f"{HEADS[spot.head]}: {zone}" for spot, zone in zones})
    return [", ".join(words[at : at + 2]) for at in range(0, len(words), 2)]


def voice_at(step: str, octave: int, head: str) -> tuple[str, str] | None:
    """Return the voice and zone a place and notehead mean, None where nothing stands there.

    An unknown notehead means the ordinary one among crosses or among plain heads.
    """
    return _AT.get((step, octave, head)) or _LINE.get((step, octave, head == "normal"))
