"""Note values, limbs, levels and zones as rows; parsers, writers and checks loop over them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction


class Limb(StrEnum):
    """The four limbs, in the order rows are drawn."""

    RH = "RH"
    LH = "LH"
    RF = "RF"
    LF = "LF"


HANDS = (Limb.RH, Limb.LH)
FEET = (Limb.RF, Limb.LF)
FOOT_LIMB = {"kick": Limb.RF, "kick2": Limb.LF, "pedal": Limb.LF}
"""Which foot plays each voice of the feet."""


class Level(StrEnum):
    """How loud a stroke is written."""

    GHOST = "ghost"
    NORMAL = "normal"
    ACCENT = "accent"


MAX_STROKES, MAX_BARS = 200_000, 20_000
"""The most a pattern may hold; longer ones are refused before they are written out."""


@dataclass(frozen=True, slots=True)
class Sign:
    """What one sign of a grid means: level, number of grace strokes, zone, and the hand if told."""

    level: Level = Level.NORMAL
    graces: int = 0
    zone: str = ""
    hand: str = ""


SIGNS: dict[str, Sign] = {
    "x": Sign(),
    "o": Sign(),
    "X": Sign(Level.ACCENT),
    "O": Sign(Level.ACCENT),
    "g": Sign(Level.GHOST),
    "f": Sign(graces=1),
    "F": Sign(Level.ACCENT, graces=1),
    "d": Sign(graces=2),
    "D": Sign(Level.ACCENT, graces=2),
    "R": Sign(hand="R"),
    "L": Sign(hand="L"),
}
"""Signs of a written grid on any voice, as tab is written (common practice); `-` and `.` rest."""


ZONE_SIGNS: dict[tuple[str, str], Sign] = {
    ("hihat", "o"): Sign(zone="open"),
    ("hihat", "O"): Sign(Level.ACCENT, zone="open"),
    ("ride", "b"): Sign(zone="bell"),
    ("ride", "B"): Sign(Level.ACCENT, zone="bell"),
    ("snare", "@"): Sign(zone="rim"),
    ("snare", "s"): Sign(zone="cross-stick"),
    ("snare", "S"): Sign(Level.ACCENT, zone="cross-stick"),
}
"""Signs (by voice and sign) that mean a zone on one voice, as tab is written (common practice)."""


@dataclass(frozen=True, slots=True)
class NoteValue:
    """One note value.

    `name` is what a pattern file says (`16t`), `length` the distance from one stroke to the next
    in quarter notes, `base` the plain note it is written as (4 = quarter, 16 = sixteenth), `dots`
    its dots, and `actual` strokes stand in the time of `normal` (3 in 2 for a triplet).
    """

    name: str
    length: Fraction
    base: int
    dots: int = 0
    actual: int = 1
    normal: int = 1


def _values() -> dict[str, NoteValue]:
    """Every value from whole to 64th: plain, dotted, triplet, quintuplet, septuplet.

    A tuplet suffix names how many strokes stand in the time of the plain ones: t = 3 in 2,
    q = 5 in 4, s = 7 in 4. Sextuplets are triplets of the next value (two joined).
    """
    kinds = (("", 0, 1, 1), (".", 1, 1, 1), ("t", 0, 3, 2), ("q", 0, 5, 4), ("s", 0, 7, 4))
    rows = {}
    for base in (1, 2, 4, 8, 16, 32, 64):
        for suffix, dots, actual, normal in kinds:
            plain = Fraction(4, base) * (Fraction(3, 2) if dots else 1)
            name = f"{base}{suffix}"
            rows[name] = NoteValue(name, plain * normal / actual, base, dots, actual, normal)
    return rows


NOTE_VALUES: dict[str, NoteValue] = _values()
