"""Drills: short pattern files made for one weakness, in the pattern language.

Each begins with the weak part alone and slow enough to watch, then puts it back to work. The text
is an ordinary pattern file: to run, edit, print or send.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import lcm
from typing import TYPE_CHECKING, Any

from trainer.kit.voices import VOICES
from trainer.pattern.model import LIMB_NAMES, NOTE_VALUES, Limb
from trainer.toml_text import toml_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.model import Pattern

DRILL_SHARE = 0.8
"""A drill is written for this share of the tempo at which it broke: slow enough to watch."""

HAND_SHARE = 0.9
"""A drill asks a hand for this share of the strokes a second that it had where it broke: less would
be no practice, more would be faster. Our own choice, as is DRILL_SHARE."""

FOOT_VOICE = {Limb.RF: "kick", Limb.LF: "pedal"}

_HAND_VALUES = {1: ("4", "8"), 2: ("8", "16"), 3: ("8t", "16t"), 4: ("16", "32")}
"""Strokes a quarter note of a hand: the note values of that hand alone and of both in turn."""


@dataclass(frozen=True, slots=True)
class DrillPlace:
    """What a drill is measured by: the pattern, and the tempo at which it broke.

    `tempo` is in quarter notes a minute. Whatever a drill is due at is slower, in quarter notes a
    minute and in strokes a second.
    """

    pattern: Pattern
    tempo: float

    def density(self, *limbs: Limb) -> float:
        """Return the strokes a quarter note of some limbs together, on average."""
        notes = (
            note for note in self.pattern.notes if not note.grace and note.written_limb in limbs
        )
        return sum(1 for _ in notes) / float(self.pattern.length)

    def hand_strokes(self, limb: Limb) -> int:
        """Return the strokes a quarter note of the hand in its drill: at least those written."""
        density = self.density(limb)
        return next((count for count in _HAND_VALUES if count >= density - 1e-9), max(_HAND_VALUES))

    def hand_tempo(self, limb: Limb) -> float:
        """Return the tempo at which a hand's drill has HAND_SHARE of its strokes a second."""
        share = min(1.0, self.density(limb) / self.hand_strokes(limb))
        return HAND_SHARE * self.tempo * share

    def foot_tempo(self, limb: Limb) -> float:
        """Return the tempo of a foot's drill, which has a stroke on every quarter note."""
        return DRILL_SHARE * self.tempo * min(1.0, self.density(limb))


def move_drill(limb: Limb, start: str, end: str, tempo: float, strokes: int = 2) -> str:
    """Return a drill for one hand's way from one drum to another.

    `strokes` are those a quarter note that the hand has in it.
    """
    this, other = _letters(limb)
    alone, both = _HAND_VALUES[strokes]
    words = f"{LIMB_NAMES[limb]} from {VOICES[start].title} to {VOICES[end].title}"
    return _drill_text(
        f"Drill: {words}",
        "The hand goes there and back alone, then with the other hand between its strokes.",
        ["drill", "moves"],
        tempo,
        _section("The hand alone", 4, this, alone, f"{start} {end}"),
        _section("Both hands", 4, f"{this} {other}", both, f"{start} x2, {end} x2"),
        _section("Four on each", 4, f"{this} {other}", both, f"{start} x4, {end} x4"),
    )


def hand_drill(limb: Limb, voice: str, tempo: float, strokes: int = 2) -> str:
    """Return a drill that gives one hand more than its share, on one drum; `strokes` as above."""
    this, other = _letters(limb)
    alone, both = _HAND_VALUES[strokes]
    return _drill_text(
        f"Drill: {LIMB_NAMES[limb]}",
        "The hand alone, then leading, then following the other hand.",
        ["drill", "hands"],
        tempo,
        _section("The hand alone", 4, this, alone, voice),
        _section("The hand leads", 4, f"{this} {other}", both, voice),
        _section("The other hand leads", 4, f"{other} {this}", both, voice),
    )


def foot_drill(limb: Limb, voice: str, tempo: float, hands: float = 4.0) -> str:
    """Return a drill that puts one foot under the hands, first together, then between.

    The hands play at most `hands` strokes a quarter note, which is what they had.
    """
    parts = (("Together", "4", 1), ("Eighths on top", "8", 2), ("Sixteenths on top", "16", 4))
    feet = {"feet": {FOOT_VOICE[limb]: "x", "value": "4"}}
    return _drill_text(
        f"Drill: {LIMB_NAMES[limb]} under the hands",
        "Every foot stroke has a hand on top of it: listen for one sound, not two.",
        ["drill", "feet", "unisons"],
        tempo,
        *(
            _section(title, 4, "R L", value, voice) | feet
            for title, value, strokes in parts
            if strokes <= max(1.0, hands)
        ),
    )


def change_drill(start: str, end: str, voice: str, tempo: float) -> str:
    """Return a drill that goes from one note value to another and back, a bar each."""
    return _drill_text(
        f"Drill: from {start} to {end}",
        "A bar of each, back and forth: the first strokes of each bar are the ones to place.",
        ["drill", "note values"],
        tempo,
        _section("Bar by bar", 4, "R L", f"{start} {end}", voice),
    )


def changes_drill(values: Sequence[str], voice: str, tempo: float) -> str:
    """Return a drill that goes through note values one by one, then in one sweep; two at least.

    Neighbours take turns bar by bar first, so each change comes alone.
    """
    pairs = [
        _section(f"{one} and {other}", 2, "R L", f"{one} {other}", voice)
        for one, other in pairwise(values)
    ]
    sweep = _section("All of them", 2, "R L", " ".join(values), voice)
    return _drill_text(
        f"Drill: from {values[0]} to {values[-1]} step by step",
        "Two neighbouring note values at a time, then all of them: place the first strokes.",
        ["drill", "note values"],
        tempo,
        *pairs,
        sweep,
    )


def value_drill(value: str, voice: str, tempo: float) -> str:
    """Return a drill that hears one note value against the beat."""
    beat = "8" if value == "4" else "4"
    return _drill_text(
        f"Drill: {value} against the beat",
        "A bar of the beat, then the note value in its place: the beat must not move.",
        ["drill", "note values"],
        tempo,
        _section("A bar of each", 4, "R L", f"{beat} {value}", voice),
        _section("Three bars of it", 2, "R L", f"{beat} {value} {value} {value}", voice),
    )


def _letters(limb: Limb) -> tuple[str, str]:
    return ("R", "L") if limb is Limb.RH else ("L", "R")


def _drill_text(
    title: str, about: str, tags: list[str], tempo: float, *sections: dict[str, Any]
) -> str:
    heading = {"title": title, "about": about, "tags": tags, "level": 2, "tempo": tempo}
    return toml_text({**heading, "section": [*sections]})


LONGEST_BAR = 64
"""Quarters in a bar at most, as the pattern language has it."""


def _section(title: str, times: int, sticking: str, value: str, path: str) -> dict[str, Any]:
    values = value.split()
    meter: str | list[str] = f"{_quarters(values)}/4"
    if _quarters(values) > LONGEST_BAR:  # no bar fits all of them: each value has its own
        meter = [f"{_quarters([one])}/4" for one in values]
    hands = {"sticking": sticking, "value": value, "path": path}
    return {"title": title, "times": times, "meter": meter, "hands": hands}


def _quarters(values: Sequence[str]) -> int:
    """Return how many quarters a bar has that each note value fills: 4 where that will do."""
    whole = lcm(*(NOTE_VALUES[value].length.numerator for value in values))
    return 4 if 4 % whole == 0 else whole * -(-3 // whole)
