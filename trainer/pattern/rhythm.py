"""How a bar is spelled: notes and rests with their types, dots, tuplets and beams.

A stroke lasts until the next one of the same stream, at most to the end of its window (usually its
beat), as drum parts are written: a kick on the beat alone is a quarter note, whatever the grid.
What the grid was is the note's value, which the engraving does not show.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.voices import VOICES
from trainer.pattern.grid import EXACT, UNIT, Window, values_of, windows
from trainer.pattern.tables import FEET, NOTE_VALUES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from trainer.pattern.model import Bar, Meter, Note
    from trainer.pattern.tables import NoteValue


_LONG = {Fraction(2): (2, 0), Fraction(3): (2, 1), Fraction(4): (1, 0)}
"""Lengths in quarter notes that are one note: its base and its dots."""


@dataclass(frozen=True, slots=True)
class Glyph:
    """A chord or a rest as it is engraved.

    `beat` counts from the bar's start and `length` is in quarter notes; `base` is the plain note
    (4 = quarter) with `dots`; `tuplet` is (strokes, in the time of), None outside tuplets, with
    `opens` and `closes` at its ends and `bracket` where beams do not show it; `beams` holds begin,
    continue, end or a hook for each beam. A rest has no notes; `graces` come before the chord.
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
    beams: tuple[str, ...] = ()


def is_foot(note: Note) -> bool:
    """Tell whether a stroke stands in the stream of the feet (stems down)."""
    return VOICES[note.voice].foot or note.limb in FEET


def written_values(notes: Sequence[Note], bars: Sequence[Bar]) -> dict[tuple[bool, Fraction], str]:
    """Return the value a reader infers at each place, by (voice of a foot, beat)."""
    found: dict[tuple[bool, Fraction], str] = {}
    for foot in (False, True):
        beats = dict.fromkeys(
            note.beat for note in notes if not note.grace and VOICES[note.voice].foot is foot
        )
        values = values_of([(beat, "") for beat in beats], bars)
        found |= {(foot, beat): value for beat, value in zip(beats, values, strict=True)}
    return found


def spell(notes: Sequence[Note], bar: Bar) -> list[Glyph]:
    """Return one stream's bar as glyphs that fill it; empty where the stream rests all bar.

    Raises BadInput where a stroke stands on no place that note values can write.
    """
    chords = {beat: tuple(group) for beat, group in groupby(notes, key=lambda note: note.beat)}
    if not chords:
        return []
    inside = tuple((int((beat - bar.start) * UNIT), "") for beat in chords)
    glyphs: list[Glyph] = []
    for window in windows(inside, bar.meter, EXACT):
        glyphs += _spell_window(window, chords, bar.start)
    if sum(bool(glyph.notes) for glyph in glyphs) < len(chords):
        raise BadInput(
            "strokes stand on places that note values cannot write", where=f"beat {bar.start}"
        )
    glyphs = _with_long_rests(_with_long_notes(glyphs))
    return _bracketed(_beamed(glyphs, bar.meter))


def _spell_window(
    window: Window, chords: dict[Fraction, tuple[Note, ...]], start: Fraction
) -> Iterator[Glyph]:
    """Yield the glyphs of one window: each stroke as long as it may be, then rests."""
    value = NOTE_VALUES[window.value]
    count = int(window.length / value.length)
    tuplet = None
    if value.actual > 1:
        tuplet = (count, count * value.normal // value.actual)
    edges = sorted({0, *window.steps, count})
    for first, after in pairwise(edges):
        beat = window.start + first * value.length
        struck = chords.get(start + beat, ())
        mains = tuple(note for note in struck if not note.grace)
        graces = tuple(note for note in struck if note.grace)
        for step, base, dots, size in _pieces(first, after, value, bool(struck)):
            yield Glyph(
                beat=window.start + step * value.length,
                length=size * value.length,
                base=base,
                dots=dots,
                notes=mains,
                graces=graces,
                tuplet=tuplet,
                opens=tuplet is not None and step == 0,
                closes=tuplet is not None and step + size == count,
            )
            mains = graces = ()


def _pieces(
    first: int, after: int, value: NoteValue, struck: bool
) -> Iterator[tuple[int, int, int, int]]:
    """Yield (step, base, dots, steps) that fill steps first to after.

    The first piece is as long as may be, dotted where that fills more; the rests behind it (or all
    pieces, where nothing is struck) are plain and start on their own grid.
    """
    step = first
    while step < after:
        note = struck and step == first
        size, room = 1, after - step
        while size * 2 <= room and value.base % (size * 2) == 0 and (note or not step % (size * 2)):
            size *= 2
        dotted = note and not value.dots and size > 1 and size * 3 // 2 <= room
        steps = size * 3 // 2 if dotted else size
        yield step, value.base // size, value.dots + dotted, steps
        step += steps


def _with_long_notes(glyphs: list[Glyph]) -> list[Glyph]:
    """Let half and whole notes last as long as they are written, where only rests follow."""
    found: list[Glyph] = []
    at = 0
    while at < len(glyphs):
        glyph, after = glyphs[at], at + 1
        asked = max((NOTE_VALUES[note.value].length for note in glyph.notes), default=0)
        if asked >= 2 and glyph.length == 1 and not glyph.tuplet:
            length = glyph.length
            while after < len(glyphs) and _joins(glyphs[after]) and length < asked:
                length += 1
                after += 1
            if length in _LONG:
                base, dots = _LONG[length]
                glyph = replace(glyph, length=length, base=base, dots=dots)
            else:
                after = at + 1
        found.append(glyph)
        at = after
    return found


def _with_long_rests(glyphs: list[Glyph]) -> list[Glyph]:
    """Join two quarter rests that fill half of a bar of four."""
    found: list[Glyph] = []
    for glyph in glyphs:
        last = found[-1] if found else None
        if last and _joins(last) and _joins(glyph) and last.beat % 2 == 0:
            found[-1] = replace(last, base=2, length=Fraction(2))
        else:
            found.append(glyph)
    return found


def _joins(glyph: Glyph) -> bool:
    return not glyph.notes and glyph.length == 1 and glyph.base == 4


def _beamed(glyphs: list[Glyph], meter: Meter) -> list[Glyph]:
    """Give beams to neighbours below a quarter within a beat; a rest breaks them."""
    found: list[Glyph] = []
    for (_, beamable), run in groupby(glyphs, key=lambda glyph: _beam_key(glyph, meter)):
        row = list(run)
        found += _beam_run(row) if beamable and len(row) > 1 else row
    return found


def _beam_key(glyph: Glyph, meter: Meter) -> tuple[Fraction, bool]:
    return _beat_of(glyph.beat, meter), bool(glyph.notes) and glyph.base >= 8


def _beat_of(beat: Fraction, meter: Meter) -> Fraction:
    """Return the start of the group of notes that are beamed together.

    A quarter where the meter counts quarters or more; three eighths in compound meters; in other
    odd meters pairs, with the last three together (7/8 is 2 + 2 + 3).
    """
    if meter.unit <= 4:
        return Fraction(int(beat))
    size = meter.beat
    if meter.beats % 3 == 0:
        return beat // (3 * size) * (3 * size)
    last = meter.length - 3 * size if meter.beats % 2 else meter.length
    return min(beat // (2 * size) * (2 * size), last)


def _beam_run(row: list[Glyph]) -> list[Glyph]:
    levels = [_flags(glyph) for glyph in row]
    halves = [_half(glyph, row, max(levels)) for glyph in row]
    beams: list[list[str]] = [[] for _ in row]
    for level in range(1, max(levels) + 1):
        keys = [(levels[at] >= level, halves[at] if level > 1 else 0) for at in range(len(row))]
        for (reached, _), group in groupby(range(len(row)), key=lambda at: keys[at]):
            stretch = list(group)
            if reached:
                for at, word in zip(stretch, _words(stretch, len(row)), strict=True):
                    beams[at].append(word)
    return [replace(glyph, beams=tuple(words)) for glyph, words in zip(row, beams, strict=True)]


def _words(stretch: list[int], size: int) -> list[str]:
    """Return the words of one beam over a stretch; a single note gets a hook to its neighbour."""
    if len(stretch) == 1:
        return ["forward hook" if stretch[0] == 0 else "backward hook"]
    return ["begin", *["continue"] * (len(stretch) - 2), "end"]


def _flags(glyph: Glyph) -> int:
    return glyph.base.bit_length() - 3


def _half(glyph: Glyph, row: list[Glyph], levels: int) -> int:
    """Return which half of its beat a glyph is in, where 32nds need their inner beams broken."""
    return int(glyph.beat % 1 >= Fraction(1, 2)) if levels >= 3 else 0


def _bracketed(glyphs: list[Glyph]) -> list[Glyph]:
    """Mark the tuplets that one unbroken beam does not show."""
    found: list[Glyph] = []
    for glyph in glyphs:
        found.append(glyph)
        if glyph.closes:
            first = max(at for at, one in enumerate(found) if one.opens)
            if not _one_beam(found[first:]):
                found[first] = replace(found[first], bracket=True)
    return found


def _one_beam(tuplet: Iterable[Glyph]) -> bool:
    words = [glyph.beams[0] if glyph.beams else "" for glyph in tuplet]
    return words[0] == "begin" and words[-1] == "end" and set(words[1:-1]) <= {"continue"}
