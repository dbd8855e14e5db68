"""What a pattern asks of the body: strokes by limb and drum, moves, and what no two hands can do.

A move is a step of one hand from one drum to another, counted within one pass. Warnings never ban
anything: places of drums are those of an ordinary right-handed kit, and the bounds are stated with
each warning (common practice, no source).
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from itertools import groupby
from typing import TYPE_CHECKING

from trainer.kit.voices import ROW, VOICES
from trainer.pattern.model import bar_of
from trainer.pattern.tables import HANDS, Limb

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from fractions import Fraction

    from trainer.pattern.model import Note, Pattern

FAR_M = 0.5
"""Drums further apart than this, in metres, are far."""

FAST_S = 0.12
"""A hand that has less time than this to reach a far drum is too fast, in seconds."""

NAMES = {Limb.RH: "right hand", Limb.LH: "left hand", Limb.RF: "right foot", Limb.LF: "left foot"}


@dataclass(frozen=True, slots=True)
class Demand:
    """What a pattern asks for. Main strokes are counted; grace strokes stand apart.

    `limbs` has None for strokes nobody was named for; `moves` counts (limb, from, to) by how often.
    `warnings` are sentences, each kind once with its first place and how often it comes.
    """

    limbs: dict[Limb | None, int]
    voices: dict[str, int]
    graces: int
    moves: dict[tuple[Limb, str, str], int]
    warnings: tuple[str, ...]


@dataclass(slots=True)
class _Warnings:
    """Warnings by their words, with the first place and the number of each."""

    pattern: Pattern
    first: dict[str, Fraction] = field(default_factory=dict)
    count: Counter[str] = field(default_factory=Counter)

    def add(self, words: str, beat: Fraction) -> None:
        self.first.setdefault(words, beat)
        self.count[words] += 1

    def told(self) -> tuple[str, ...]:
        return tuple(
            f"{words} ({place(self.pattern, beat)}{_often(self.count[words])})"
            for words, beat in self.first.items()
        )


def demand(pattern: Pattern, tempo: float | None = None) -> Demand:
    """Return what the pattern asks for at a tempo (BPM; its own unless given)."""
    mains = [note for note in pattern.notes if not note.grace]
    quarter = 60.0 / ((tempo or pattern.tempo) * float(pattern.tempo_unit))
    voices = Counter(note.voice for note in mains)
    limbs = Counter(note.limb for note in mains)
    warnings = _Warnings(pattern)
    for beat, notes in groupby(mains, key=_beat):
        _together(list(notes), beat, warnings)
    moves = Counter[tuple[Limb, str, str]]()
    for one, two in _steps(mains):
        assert two.limb
        moves[two.limb, one.voice, two.voice] += 1
        _too_far(one, two, quarter, warnings)
    return Demand(
        limbs={limb: limbs[limb] for limb in (*Limb, None) if limbs[limb]},
        voices={voice: voices[voice] for voice in sorted(voices, key=ROW.__getitem__)},
        graces=len(pattern.notes) - len(mains),
        moves=dict(sorted(moves.items(), key=lambda move: -move[1])),
        warnings=warnings.told(),
    )


def place(pattern: Pattern, beat: Fraction) -> str:
    """Return a beat in words, bars and written beats counted from 1: `bar 2, beat 3 1/2`."""
    number = bar_of(pattern, beat)
    bar = pattern.bars[number]
    whole, rest = divmod((beat - bar.start) / bar.meter.beat, 1)
    return f"bar {number + 1}, beat {whole + 1}{f' {rest}' if rest else ''}"


def distance(one: str, two: str) -> float:
    """Return how far two voices stand apart on an ordinary kit, in metres."""
    return math.dist(VOICES[one].place, VOICES[two].place)


def _together(notes: list[Note], beat: Fraction, warnings: _Warnings) -> None:
    """Warn of strokes at one beat that two hands and two feet cannot share."""
    by_hand = [note for note in notes if not VOICES[note.voice].foot]
    if len(by_hand) > 2:
        drums = ", ".join(note.voice for note in by_hand)
        warnings.add(f"{len(by_hand)} strokes of the hands at once: {drums}", beat)
        return
    for limb in Limb:
        own = [note.voice for note in notes if note.limb == limb]
        if len(own) > 1:
            warnings.add(f"the {NAMES[limb]} strikes {' and '.join(own)} at once", beat)
    if len(by_hand) == 2 and by_hand[0].voice == by_hand[1].voice:
        warnings.add(f"both hands on the {by_hand[0].voice}: a pad may send one hit for two", beat)


def _steps(mains: Iterable[Note]) -> Iterator[tuple[Note, Note]]:
    """Yield each hand's pairs of strokes that follow one another on different voices."""
    last: dict[Limb, Note] = {}
    for note in mains:
        if note.limb in HANDS:
            before = last.get(note.limb)
            if before and before.voice != note.voice and before.beat != note.beat:
                yield before, note
            last[note.limb] = note


def _too_far(one: Note, two: Note, quarter: float, warnings: _Warnings) -> None:
    gap_s = float(two.beat - one.beat) * quarter
    far = distance(one.voice, two.voice)
    if far >= FAR_M and gap_s < FAST_S and two.limb:
        warnings.add(
            f"the {NAMES[two.limb]} has {1000 * gap_s:.0f} ms from {one.voice} to {two.voice}, "
            f"some {far:.1f} m; under {1000 * FAST_S:.0f} ms is too fast for most",
            two.beat,
        )


def _often(count: int) -> str:
    return f", {count} times" if count > 1 else ""


def _beat(note: Note) -> Fraction:
    return note.beat
