"""What a pattern lost on its way through a file: the pattern beside what the file reads back as."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES, full_zone

if TYPE_CHECKING:
    from collections.abc import Iterator
    from fractions import Fraction

    from trainer.pattern.model import Note, Pattern

_WORDS = {
    "title": "the title as it is written",
    "about": "what it is about",
    "tags": "its tags",
    "level": "its level",
    "tempo_unit": "the note the tempo counts",
    "bars": "its meters",
    "sections": "its sections",
    "assumed": "what was assumed",
}
"""What a pattern says besides its notes."""

TEMPO_ROUNDING = 0.01
"""BPM by which a tempo may be rounded without a word."""

_NOTE_WORDS = {"level": "the loudness", "value": "the note value", "limb": "the hand or foot"}


def losses(pattern: Pattern, back: Pattern) -> list[str]:
    """Return in words, one for each kind, what `back` has lost; empty where nothing is."""
    return [*_notes(pattern, back), *_headings(pattern, back)]


def _headings(pattern: Pattern, back: Pattern) -> Iterator[str]:
    if abs(pattern.tempo - back.tempo) > TEMPO_ROUNDING:
        yield f"the tempo of {pattern.tempo:g} BPM"
    for name, words in _WORDS.items():
        if getattr(pattern, name) != getattr(back, name):
            yield words


def _notes(pattern: Pattern, back: Pattern) -> Iterator[str]:
    """Yield zones by name, then what else of how many strokes."""
    written, found = Counter(pattern.notes), Counter(back.notes)
    left: dict[tuple[Fraction, str, int], list[Note]] = {}
    for note in (found - written).elements():
        left.setdefault(_place(note), []).append(note)
    zones: Counter[tuple[str, str, str]] = Counter()
    kinds: Counter[str] = Counter()
    for note in (written - found).elements():
        others = left.get(_place(note))
        if not others:
            kinds["stroke"] += 1
            continue
        other = others.pop(0)
        if note.zone != other.zone:
            zones[note.voice, note.zone, other.zone] += 1
        kinds.update(name for name in _NOTE_WORDS if getattr(note, name) != getattr(other, name))
    for (voice, zone, plain), count in zones.items():
        place = f"{voice}:{full_zone(voice, zone)}"
        instead = VOICES[voice].title + (f", {plain}" if plain else "")
        yield f"{place} ({_strokes(count)}, written as {'' if plain else 'plain '}{instead})"
    for name, words in _NOTE_WORDS.items():
        if kinds[name]:
            yield f"{words} of {_strokes(kinds[name])}"
    if kinds["stroke"]:
        yield _strokes(kinds["stroke"])


def _place(note: Note) -> tuple[Fraction, str, int]:
    return note.beat, note.voice, note.grace


def _strokes(count: int) -> str:
    return f"{count} stroke{'' if count == 1 else 's'}"
