"""Drills: short pattern files made for one weakness, in the pattern language.

Each begins with the weak part alone and slow enough to watch, then puts it back to work. The text
is an ordinary pattern file: to run, edit, print or send.
"""

from __future__ import annotations

from itertools import pairwise
from math import lcm
from typing import TYPE_CHECKING, Any

from trainer.kit.voices import VOICES
from trainer.pattern.model import LIMB_NAMES, NOTE_VALUES, Limb
from trainer.toml_text import toml_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.model import Pattern

HAND_STROKES = 2
"""Strokes a quarter note that a hand plays at least, on average, in each part of a drill for it."""

HAND_SHARE = 0.9
"""A drill asks a hand for at least this share of the strokes a second that it had in the session,
at its fastest tempo: less would be no practice. Our own choice."""

FOOT_VOICE = {Limb.RF: "kick", Limb.LF: "pedal"}


def hand_tempo(pattern: Pattern, limb: Limb, fastest: float) -> float:
    """Return the tempo (BPM) from which a hand's drill has HAND_SHARE of its strokes a second.

    `fastest` is the fastest tempo at which the pattern was played, in quarter notes a minute.
    """
    strokes = sum(note.written_limb is limb and not note.grace for note in pattern.notes)
    return HAND_SHARE * fastest * strokes / float(pattern.length) / HAND_STROKES


def move_drill(limb: Limb, start: str, end: str, tempo: float) -> str:
    """Return a drill for one hand's way from one drum to another."""
    this, other = _letters(limb)
    words = f"{LIMB_NAMES[limb]} from {VOICES[start].title} to {VOICES[end].title}"
    return _drill_text(
        f"Drill: {words}",
        "The hand goes there and back alone, then with the other hand between its strokes.",
        ["drill", "moves"],
        tempo,
        _section("The hand alone", 4, this, "8", f"{start} {end}"),
        _section("Both hands", 4, f"{this} {other}", "16", f"{start} x2, {end} x2"),
        _section("Four on each", 4, f"{this} {other}", "16", f"{start} x4, {end} x4"),
    )


def hand_drill(limb: Limb, voice: str, tempo: float) -> str:
    """Return a drill that gives one hand more than its share, on one drum."""
    this, other = _letters(limb)
    return _drill_text(
        f"Drill: {LIMB_NAMES[limb]}",
        "The hand alone, then leading, then four strokes against the other hand's four.",
        ["drill", "hands"],
        tempo,
        _section("The hand alone", 4, this, "8", voice),
        _section("The hand leads", 4, f"{this} {other}", "16", voice),
        _section(
            "Four and four", 4, f"{this} {this} {this} {this} " + " ".join([other] * 4), "16", voice
        ),
    )


def foot_drill(limb: Limb, voice: str, tempo: float) -> str:
    """Return a drill that puts one foot under the hands, first together, then between."""
    feet = {"feet": {FOOT_VOICE[limb]: "x", "value": "4"}}
    return _drill_text(
        f"Drill: {LIMB_NAMES[limb]} under the hands",
        "Every foot stroke has a hand on top of it: listen for one sound, not two.",
        ["drill", "feet", "unisons"],
        tempo,
        _section("Together", 4, "R L", "4", voice) | feet,
        _section("Eighths on top", 4, "R L", "8", voice) | feet,
        _section("Sixteenths on top", 4, "R L", "16", voice) | feet,
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


def _section(title: str, times: int, sticking: str, value: str, path: str) -> dict[str, Any]:
    meter = f"{_quarters(value.split())}/4"
    hands = {"sticking": sticking, "value": value, "path": path}
    return {"title": title, "times": times, "meter": meter, "hands": hands}


def _quarters(values: Sequence[str]) -> int:
    """Return how many quarters a bar has that each note value fills: 4 where that will do."""
    whole = lcm(*(NOTE_VALUES[value].length.numerator for value in values))
    return 4 if 4 % whole == 0 else whole * -(-3 // whole)
