"""How hard a pattern is, from 1 to 5, computed from what is written at its own tempo.

Each ground is worth some points; the level is 1 plus their sum, rounded down after adding a
quarter, and 5 at most. The grounds:

- rate: strokes a second of the busier hand, over a second or four gaps, whichever is longer. A
  hand manages 5 to 7 (Fujii and others 2009).
- feet: the same of the busier foot; for the left one less is as hard.
- moves: how far the busier hand travels from drum to drum, in metres a second.
- crossing: how often the right hand is left of the left hand; over the hi-hat that is ordinary and
  does not count.
- independence: feet beside the hands, how many of their strokes fall between those of the hands,
  and in how many ways hands and feet combine.
- off the beat: accents, a hand's changes of drum and strokes of the feet that are not on a beat.
- sticking: strokes that follow one another in the same hand, grace strokes, changes of loudness.
- note values: how often the value changes, and whether there are quintuplets, septuplets or the
  like.
- meter: an odd one (5, 7, 11 beats), and one that changes.

What each is worth is our own choice, set so that the shipped patterns come in the order in which a
teacher gave them out. Rates are in strokes a second, distances those of an ordinary kit
(`trainer.kit.voices`).
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from trainer.kit.voices import VOICES, drum_distance
from trainer.pattern.handedness import mirrored
from trainer.pattern.model import FEET, HANDS, NOTE_VALUES, Level, Limb, bar_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from fractions import Fraction

    from trainer.pattern.model import Note, Pattern

HARDEST = 5
ROUNDING = 0.25
"""Points added before the sum is rounded down."""

RUN_S, RUN_GAPS = 1.0, 4
"""A rate is taken over so many seconds and at least so many gaps."""

CROSSED_S, CROSSED_M = 0.3, 0.1
"""Hands are crossed when strokes this close in time are this far on the other's side."""

ODD = 3
"""Tuplets of more strokes than this count as odd."""


class Ramp(NamedTuple):
    """What a ground is worth: nothing up to `low`, `points` from `high` on, evenly in between."""

    low: float
    high: float
    points: float

    def worth(self, amount: float) -> float:
        """Return the points of an amount."""
        return self.points * min(1.0, max(0.0, (amount - self.low) / (self.high - self.low)))


HAND_RATE = Ramp(1.8, 7, 3.0)
FOOT_RATE = {Limb.RF: Ramp(1.2, 5, 2.4), Limb.LF: Ramp(0.4, 3.5, 2.4)}
MOVES, CROSSING = Ramp(0.1, 1.1, 2.0), Ramp(0.05, 0.35, 0.7)
FEET_APART, FURTHER_WAYS, FEET_BESIDE = Ramp(0, 1, 1.0), 0.25, 0.3
OFF_THE_BEAT = Ramp(0.1, 0.75, 1.0)
SAME_HAND, GRACES, LOUDNESS = Ramp(0, 0.5, 0.4), Ramp(0, 0.6, 0.8), Ramp(0, 0.33, 0.3)
CHANGES, ODD_TUPLET = Ramp(0, 1.2, 1.0), 1.0
ODD_METER, CHANGING_METER = 0.4, 0.4
USUAL_BEATS = (1, 2, 3, 4, 6, 8, 9, 12)


@dataclass(frozen=True, slots=True)
class PatternLevel:
    """A level from 1 to 5 and its grounds: what each is, and the points it is worth."""

    level: int
    grounds: tuple[tuple[str, float], ...]


def computed_level(pattern: Pattern) -> PatternLevel:
    """Return how hard a pattern is at its own tempo; 1 where nothing is written."""
    parts = _Parts(mirrored(pattern) if pattern.left_handed else pattern)
    grounds = (
        ("rate", HAND_RATE.worth(max(map(parts.rate, HANDS)))),
        ("feet", max(FOOT_RATE[foot].worth(parts.rate(foot)) for foot in FEET)),
        ("moves", MOVES.worth(max(map(parts.travel, HANDS)))),
        ("crossing", CROSSING.worth(parts.crossed())),
        ("independence", parts.independence()),
        ("off the beat", OFF_THE_BEAT.worth(parts.off_the_beat())),
        ("sticking", parts.sticking()),
        ("note values", parts.values()),
        ("meter", parts.meters()),
    )
    total = sum(points for _, points in grounds)
    return PatternLevel(min(HARDEST, 1 + math.floor(total + ROUNDING)), grounds)


class _Parts:
    """A pattern's main strokes by who plays them; times are seconds at its own tempo."""

    def __init__(self, pattern: Pattern) -> None:
        self.pattern = pattern
        self.quarter_s = 60.0 / (pattern.tempo * float(pattern.tempo_unit))
        self.length_s = float(pattern.length) * self.quarter_s
        self.mains = [note for note in pattern.notes if not note.grace]
        self.feet = [note for note in self.mains if _is_foot(note)]
        self.hands = [note for note in self.mains if not _is_foot(note)]
        self.graces = len(pattern.notes) - len(self.mains)

    def rate(self, limb: Limb) -> float:
        """Return the most strokes a second of a limb; the pattern goes round."""
        own = sorted(
            {float(note.beat) * self.quarter_s for note in self.mains if note.limb == limb}
        )
        if not own:
            return 0.0
        rounds = 1 + math.ceil(max(RUN_S / self.length_s, (RUN_GAPS + 1) / len(own)))
        times = [turn * self.length_s + time_s for turn in range(rounds) for time_s in own]
        return _fastest(times, len(own))

    def travel(self, limb: Limb) -> float:
        """Return how many metres a second a hand travels."""
        voices = [note.voice for note in self.hands if note.limb == limb]
        return sum(drum_distance(one, two) for one, two in pairwise(voices)) / self.length_s

    def crossed(self) -> float:
        """Return the part of the hands' strokes that are played with crossed hands."""
        found = 0
        last: dict[Limb | None, Note] = {}
        for note in self.hands:
            other = last.get(Limb.LH if note.limb == Limb.RH else Limb.RH)
            if other and float(note.beat - other.beat) * self.quarter_s < CROSSED_S:
                right, left = (note, other) if note.limb == Limb.RH else (other, note)
                found += _is_crossed(right.voice, left.voice)
            last[note.limb] = note
        return found / max(1, len(self.hands))

    def independence(self) -> float:
        """Return the points of feet beside hands."""
        hands = {note.beat for note in self.hands}
        feet: dict[Fraction, set[str]] = {}
        for note in self.feet:
            feet.setdefault(note.beat, set()).add(note.voice)
        ways = {(beat in hands, *sorted(feet.get(beat, ()))) for beat in hands | feet.keys()}
        if not hands or not feet:
            return 0.0
        apart = sum(beat not in hands for beat in feet) / len(feet)
        return FEET_BESIDE + FEET_APART.worth(apart) + FURTHER_WAYS * max(0, len(ways) - 2)

    def off_the_beat(self) -> float:
        """Return the part of accents, changes of drum and feet that are not on a beat."""
        marks = [note.beat for note in self.feet]
        marks += [note.beat for note in self.hands if note.level is Level.ACCENT]
        for hand in HANDS:
            own = [note for note in self.hands if note.limb == hand]
            marks += [two.beat for one, two in pairwise(own) if one.voice != two.voice]
        off = 0
        for beat in marks:
            bar = self.pattern.bars[bar_of(self.pattern, beat)]
            off += (beat - bar.start) % bar.meter.beat != 0
        return off / max(1, len(marks))

    def sticking(self) -> float:
        """Return the points of doubles, grace strokes and changes of loudness."""
        count = max(1, len(self.hands))
        limbs = [note.limb for note in self.hands if note.limb]
        same = sum(one == two for one, two in pairwise(limbs)) / max(1, len(limbs) - 1)
        usual = Counter(note.level for note in self.hands).most_common(1)
        special = count - usual[0][1] if usual else 0
        return (
            SAME_HAND.worth(same)
            + GRACES.worth(self.graces / count)
            + LOUDNESS.worth(special / count)
        )

    def values(self) -> float:
        """Return the points of changing note values and of odd tuplets."""
        values = [note.value for note in self.hands]
        changes = sum(one != two for one, two in pairwise(values)) / len(self.pattern.bars)
        odd = any(NOTE_VALUES[value].actual > ODD for value in values)
        return CHANGES.worth(changes) + ODD_TUPLET * odd

    def meters(self) -> float:
        """Return the points of odd and changing meters."""
        meters = {bar.meter for bar in self.pattern.bars}
        odd = any(meter.beats not in USUAL_BEATS for meter in meters)
        return ODD_METER * odd + CHANGING_METER * (len(meters) > 1)


def _is_foot(note: Note) -> bool:
    return note.limb in FEET or VOICES[note.voice].foot


def _is_crossed(right: str, left: str) -> bool:
    return right != "hihat" and VOICES[right].place[0] < VOICES[left].place[0] - CROSSED_M


def _fastest(times: Sequence[float], starts: int) -> float:
    """Return the most strokes a second over a run that begins at one of the first `starts`."""
    best, end = 0.0, 0
    for begin in range(starts):
        end = max(end, begin + RUN_GAPS)
        while end < len(times) - 1 and times[end] - times[begin] < RUN_S:
            end += 1
        if end < len(times):
            best = max(best, (end - begin) / (times[end] - times[begin]))
    return best
