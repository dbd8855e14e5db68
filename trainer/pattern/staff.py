"""Drum notation on a staff: places and noteheads, sticking letters, ties, beams and brackets.

Places have one row for each voice and zone, after the Percussive Arts Society's recommendation as
drum books print it (common practice): kick in the bottom space, snare in the third, toms around
it, cymbals on top with crosses, an open hi-hat with a circled cross, a bell with a diamond, a rim
with a slash. A choke is a slash on its cymbal's line, a half-open hi-hat is circled, on our pages
with a line through the circle (our own choices).

The sticking under a chord is R, L, or B for both hands, with small letters before for grace
strokes. The same letters are written and read. Where two hands strike together, B means the right
hand on the upper drum (or both on one), and L/R the left hand on the upper.

Ties and groups: beats count in quarter notes from the bar's start. A note may hide a beat only
where readers are used to it (common practice, as books of engraving have it): from half a beat to
half a beat, over the middle of a bar of four only in the middle of a syncopation, and over the
groups of a compound meter only where it fills them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import count, groupby, takewhile
from typing import TYPE_CHECKING

from trainer.kit.voices import CHOKE, VOICES
from trainer.pattern.model import Limb

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from trainer.pattern.model import Meter, Note


@dataclass(frozen=True, slots=True)
class StaffPlace:
    """A place on the staff: step and octave as in treble clef, and a MusicXML notehead."""

    step: str
    octave: int
    head: str = "normal"


STAFF_PLACES: dict[tuple[str, str], StaffPlace] = {
    ("splash", "edge"): StaffPlace("D", 6, "x"),
    ("splash", "bow"): StaffPlace("D", 6, "cross"),
    ("splash", CHOKE): StaffPlace("D", 6, "slash"),
    ("china", "edge"): StaffPlace("C", 6, "x"),
    ("china", "bow"): StaffPlace("C", 6, "cross"),
    ("china", CHOKE): StaffPlace("C", 6, "slash"),
    ("crash2", "edge"): StaffPlace("B", 5, "x"),
    ("crash2", "bow"): StaffPlace("B", 5, "cross"),
    ("crash2", "bell"): StaffPlace("B", 5, "diamond"),
    ("crash2", CHOKE): StaffPlace("B", 5, "slash"),
    ("crash", "edge"): StaffPlace("A", 5, "x"),
    ("crash", "bow"): StaffPlace("A", 5, "cross"),
    ("crash", "bell"): StaffPlace("A", 5, "diamond"),
    ("crash", CHOKE): StaffPlace("A", 5, "slash"),
    ("hihat", "closed"): StaffPlace("G", 5, "x"),
    ("hihat", "open"): StaffPlace("G", 5, "circle-x"),
    ("hihat", "half-open"): StaffPlace("G", 5, "circled"),
    ("hihat", "edge"): StaffPlace("G", 5, "cross"),
    ("hihat", "bell"): StaffPlace("G", 5, "diamond"),
    ("ride", "bow"): StaffPlace("F", 5, "x"),
    ("ride", "edge"): StaffPlace("F", 5, "cross"),
    ("ride", "bell"): StaffPlace("F", 5, "diamond"),
    ("ride", CHOKE): StaffPlace("F", 5, "slash"),
    ("ride2", "bow"): StaffPlace("D", 5, "x"),
    ("ride2", "edge"): StaffPlace("D", 5, "cross"),
    ("ride2", "bell"): StaffPlace("D", 5, "diamond"),
    ("ride2", CHOKE): StaffPlace("D", 5, "slash"),
    ("cowbell", "head"): StaffPlace("E", 5, "x"),
    ("tambourine", "head"): StaffPlace("B", 4, "x"),
    ("tom0", "head"): StaffPlace("F", 5),
    ("tom0", "rim"): StaffPlace("F", 5, "slashed"),
    ("tom1", "head"): StaffPlace("E", 5),
    ("tom1", "rim"): StaffPlace("E", 5, "slashed"),
    ("tom2", "head"): StaffPlace("D", 5),
    ("tom2", "rim"): StaffPlace("D", 5, "slashed"),
    ("snare", "head"): StaffPlace("C", 5),
    ("snare", "rim"): StaffPlace("C", 5, "slashed"),
    ("snare", "cross-stick"): StaffPlace("C", 5, "x"),
    ("tom3", "head"): StaffPlace("B", 4),
    ("tom3", "rim"): StaffPlace("B", 4, "slashed"),
    ("floor", "head"): StaffPlace("A", 4),
    ("floor", "rim"): StaffPlace("A", 4, "slashed"),
    ("floor2", "head"): StaffPlace("G", 4),
    ("floor2", "rim"): StaffPlace("G", 4, "slashed"),
    ("kick", "head"): StaffPlace("F", 4),
    ("kick2", "head"): StaffPlace("E", 4),
    ("pedal", "closed"): StaffPlace("D", 4, "x"),
}

NOTEHEAD_WORDS = {
    "slashed": "slashed",
    "diamond": "diamond",
    "circle-x": "circled cross",
    "circled": "circled",
    "cross": "plus",
    "slash": "slash",
    "x": "cross",
}
"""What noteheads look like, in words."""

_VOICE_AT = {(spot.step, spot.octave, spot.head): at for at, spot in reversed(STAFF_PLACES.items())}
_VOICE_ON_LINE = {
    (spot.step, spot.octave, spot.head == "normal"): at
    for at, spot in reversed(STAFF_PLACES.items())
}


def staff_place(voice: str, zone: str) -> StaffPlace:
    """Return where a voice and zone are; a zone without a row is where the ordinary one is."""
    ordinary = STAFF_PLACES[voice, VOICES[voice].zones[0]]
    return STAFF_PLACES.get((voice, zone), ordinary) if zone else ordinary


def notehead_key(drums: Iterable[tuple[str, str]]) -> list[str]:
    """Return what the noteheads of zones mean, in lines such as `diamond: bell, slashed: rim`.

    `drums` are the voices and zones used. Two heads a line are no wider than a short bar.
    """
    zones = [
        (staff_place(*drum), drum[1])
        for drum in drums
        if staff_place(*drum) != staff_place(drum[0], "")
    ]
    words = sorted({f"{NOTEHEAD_WORDS[spot.head]}: {zone}" for spot, zone in zones})
    return [", ".join(words[at : at + 2]) for at in range(0, len(words), 2)]


def voice_at(step: str, octave: int, head: str) -> tuple[str, str] | None:
    """Return the voice and zone a place and notehead mean, None where nothing is there.

    An unknown notehead means the ordinary one among crosses or among plain heads.
    """
    head = "slashed" if head in ("slash", "back slashed") else head
    return _VOICE_AT.get((step, octave, head)) or _VOICE_ON_LINE.get(
        (step, octave, head == "normal")
    )


_HAND_LETTER: dict[Limb | None, str] = {Limb.RH: "R", Limb.LH: "L"}
_LETTER_HANDS: dict[str, tuple[Limb, ...]] = {
    "R": (Limb.RH,),
    "L": (Limb.LH,),
    "B": (Limb.RH, Limb.LH),
    "R/L": (Limb.RH, Limb.LH),
    "L/R": (Limb.LH, Limb.RH),
}
_STICKING_TEXT = re.compile(r"([rl]*)(R/L|L/R|[RLB])", re.ASCII)


def sticking_letters(mains: Sequence[Limb | None], graces: Sequence[Limb | None]) -> str:
    """Return the letters of a chord, its limbs from the upper drum down, graces as played.

    Empty where no hand is known; what the letters cannot say is left out of them.
    """
    hands = [limb for limb in mains if limb in _HAND_LETTER]
    if not hands:
        return ""
    soft = "".join(_HAND_LETTER.get(limb, "") for limb in graces).lower()
    if hands[:2] == [Limb.RH, Limb.LH]:
        return f"{soft}B"
    return soft + "/".join(dict.fromkeys(_HAND_LETTER[limb] for limb in hands[:2]))


def sticking_limbs(text: str) -> tuple[tuple[Limb, ...], tuple[Limb, ...]]:
    """Return the limbs of a chord and of its grace strokes; empty where the text is no sticking."""
    found = _STICKING_TEXT.fullmatch(text.strip())
    if not found:
        return (), ()
    return _LETTER_HANDS[found[2]], tuple(_LETTER_HANDS[letter.upper()][0] for letter in found[1])


GRAIN = Fraction(1, 16)
"""A 64th: tied notes begin and end on multiples of it."""

SINGLE_NOTES = {
    Fraction(4, base) * (Fraction(3, 2) if dots else 1): (base, dots)
    for base in (1, 2, 4, 8, 16, 32, 64)
    for dots in (0, 1)
}
"""Lengths in quarter notes that are one note: its base and its dots."""


def group_start(beat: Fraction, meter: Meter) -> Fraction:
    """Return the start of the group that holds a beat: the notes that are beamed together.

    A quarter where the meter counts quarters or more; the groups that are written; three eighths in
    compound meters; in other odd meters pairs, with the last three together (7/8 is 2 + 2 + 3).
    """
    if meter.unit <= 4:
        return Fraction(int(beat))
    size = meter.beat
    if meter.groups:
        return max(start * size for start in meter.group_starts if start * size <= beat)
    if meter.in_threes:
        return beat // (3 * size) * (3 * size)
    last = meter.length - 3 * size if meter.beats % 2 else meter.length
    return min(beat // (2 * size) * (2 * size), last)


def tied_notes(start: Fraction, end: Fraction, meter: Meter) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield start and length of the notes, tied to one another, that last from start to end."""
    while end - start not in SINGLE_NOTES or _hides(start, end, meter):
        cut = _cut_place(start, end, meter)
        yield from tied_notes(start, cut, meter)
        start = cut
    yield start, end - start


def _hides(start: Fraction, end: Fraction, meter: Meter) -> bool:
    """Return whether one note from start to end would hide a place that readers look for."""
    if not any(start < edge < end for edge in _group_starts(meter)):
        return False
    if meter.in_threes:
        edges = (*_group_starts(meter), meter.length)
        return start not in edges or end not in edges
    half_beat = meter.beat if meter.unit > 4 else Fraction(1, 2)
    if start % half_beat or end % half_beat:
        return True
    middle = _bar_middle(meter)
    if middle is None or not start < middle < end or start == 0:
        return False
    ends_bar = end == meter.length and start.denominator == 1
    return middle - start != end - middle and not ends_bar


def _cut_place(start: Fraction, end: Fraction, meter: Meter) -> Fraction:
    """Return the strongest place inside: the last one for what starts on one, else the first."""
    middle = _bar_middle(meter)
    strong: Sequence[Fraction] = (Fraction(0), middle) if middle else ()
    for edges in (strong, _group_starts(meter)):
        inside = [edge for edge in edges if start < edge < end]
        if inside:
            return inside[-1] if start in edges else inside[0]
    size = Fraction(1)
    while True:
        first = (start // size + 1) * size
        if first < end:
            return (-(-end // size) - 1) * size if start % size == 0 else first
        size /= 2


@lru_cache(maxsize=64)
def _group_starts(meter: Meter) -> tuple[Fraction, ...]:
    """Return where the groups of a bar start."""
    step = min(meter.beat, Fraction(1))
    places = takewhile(lambda beat: beat < meter.length, (step * index for index in count()))
    return tuple(dict.fromkeys(group_start(beat, meter) for beat in places))


def _bar_middle(meter: Meter) -> Fraction | None:
    """Return the middle of a bar of four quarters (or two halves), None in other meters."""
    return Fraction(2) if meter.unit <= 4 and meter.length == 4 else None


@dataclass(frozen=True, slots=True)
class Glyph:
    """A chord or a rest as it is engraved.

    `beat` counts from the bar's start and `length` is in quarter notes; `base` is the plain note
    (4 = quarter) with `dots`; `tuplet` is (strokes, in the time of), None outside tuplets, with
    `opens` and `closes` at its ends, `bracket` where beams do not show it, and `numbered` unless
    the other voice shows the same one; `beams` holds begin,
    continue, end or a hook for each beam. A rest has no notes; `graces` come before the chord.
    `tied_from` is the rest of a stroke that began before, `tied_on` has such a rest to come.
    """

    beat: Fraction
    length: Fraction
    base: int
    dots: int = 0
    notes: tuple[Note, ...] = ()
    graces: tuple[Note, ...] = ()
    tuplet: tuple[int, int] | None = None
    opens: bool = False
    closes: bool = False
    bracket: bool = False
    numbered: bool = True
    beams: tuple[str, ...] = ()
    tied_from: bool = False
    tied_on: bool = False


def beamed(glyphs: list[Glyph], meter: Meter) -> list[Glyph]:
    """Give beams to neighbours below a quarter within a group; a rest breaks them."""
    found: list[Glyph] = []
    for (_, beamable), run in groupby(glyphs, key=lambda glyph: _beam_key(glyph, meter)):
        for row in _without_half_tuplets(list(run)) if beamable else [list(run)]:
            found += _beam_run(row) if beamable and len(row) > 1 else row
    return found


def _without_half_tuplets(run: list[Glyph]) -> Iterator[list[Glyph]]:
    """Yield a run in rows that no beam leads into or out of a part of a tuplet.

    Such a beam and the bracket would cross.
    """
    start, whole = 0, run[0].opens or not run[0].tuplet
    for at, glyph in enumerate(run[1:], 1):
        before = run[at - 1]
        if before.closes or (glyph.opens and not before.tuplet):
            ends_whole = not glyph.opens or any(one.closes for one in run[at:])
            if not (whole and ends_whole):
                yield run[start:at]
                start = at
            whole = True
    yield run[start:]


def bracketed(glyphs: list[Glyph]) -> list[Glyph]:
    """Mark the tuplets that one unbroken beam does not show."""
    found: list[Glyph] = []
    for glyph in glyphs:
        found.append(glyph)
        if glyph.closes:
            first = max(at for at, one in enumerate(found) if one.opens)
            if not _one_beam(found[first:]):
                found[first] = replace(found[first], bracket=True)
    return found


TupletSpan = tuple[Fraction, Fraction, tuple[int, int] | None]
"""Where a tuplet starts and ends, and how many strokes are in the time of how many."""


def tuplet_spans(glyphs: Sequence[Glyph]) -> Iterator[tuple[TupletSpan, int]]:
    """Yield the tuplets of a bar, each with the index of its first glyph."""
    first = 0
    for at, glyph in enumerate(glyphs):
        first = at if glyph.opens else first
        if glyph.closes:
            yield (glyphs[first].beat, glyph.beat + glyph.length, glyph.tuplet), first


def _beam_key(glyph: Glyph, meter: Meter) -> tuple[Fraction, bool]:
    return group_start(glyph.beat, meter), bool(glyph.notes) and glyph.base >= 8


def _beam_run(row: list[Glyph]) -> list[Glyph]:
    levels = [_flag_count(glyph) for glyph in row]
    halves = [_half_beat(glyph, max(levels)) for glyph in row]
    beams: list[list[str]] = [[] for _ in row]
    for level in range(1, max(levels) + 1):
        keys = [(levels[at] >= level, halves[at] if level > 1 else 0) for at in range(len(row))]
        for (reached, _), group in groupby(range(len(row)), key=lambda at: keys[at]):
            stretch = list(group)
            if reached:
                for at, word in zip(stretch, _beam_words(stretch), strict=True):
                    beams[at].append(word)
    return [replace(glyph, beams=tuple(words)) for glyph, words in zip(row, beams, strict=True)]


def _beam_words(stretch: list[int]) -> list[str]:
    """Return the words of one beam over a stretch; a single note gets a hook to its neighbour."""
    if len(stretch) == 1:
        return ["forward hook" if stretch[0] == 0 else "backward hook"]
    return ["begin", *["continue"] * (len(stretch) - 2), "end"]


def _flag_count(glyph: Glyph) -> int:
    return glyph.base.bit_length() - 3


def _half_beat(glyph: Glyph, levels: int) -> int:
    """Return which half of its beat a glyph is in, where 32nds need their inner beams broken."""
    return int(glyph.beat % 1 >= Fraction(1, 2)) if levels >= 3 else 0


def _one_beam(tuplet: Iterable[Glyph]) -> bool:
    words = [glyph.beams[0] if glyph.beams else "" for glyph in tuplet]
    return words[0] == "begin" and words[-1] == "end" and set(words[1:-1]) <= {"continue"}
