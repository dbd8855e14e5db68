"""How a bar is notated: notes and rests with their types, dots, ties, tuplets and beams.

A stroke lasts as long as its value says, cut into tied notes where the meter would be hidden
(`trainer.pattern.staff`). A shorter one lasts until the next of the same stream, at most to the
end of its window (usually its beat), as drum parts are written: a kick on the beat alone is a
quarter note, whatever the grid. A tuplet spans no more than it must: three sixteenth triplets and
an eighth are a triplet and an eighth, six in a row are a sextuplet.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.voices import VOICES
from trainer.pattern.model import FEET, NOTE_VALUES, USUAL_VALUES
from trainer.pattern.quantiser import EXACT, UNIT, NoteWindow, note_windows, values_of
from trainer.pattern.staff import GRAIN, SINGLE_NOTES, Glyph, beamed, bracketed, tied_notes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.pattern.model import Bar, Meter, Note, NoteValue


WHOLE_TUPLET = 6
"""The most strokes that are read as one tuplet; more are cut in halves."""


def is_foot(note: Note) -> bool:
    """Return whether a stroke is in the stream of the feet (stems down)."""
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


def spell(notes: Sequence[Note], bar: Bar, until: Fraction, held: Sequence[Note]) -> list[Glyph]:
    """Return one stream's bar as glyphs that fill it; empty where the stream rests all bar.

    `until` is the beat before which the bar's last stroke ends; `held` are the main notes of a
    stroke of the bar before that lasts into this one.
    Raises BadInput where a stroke is at no place that note values can write.
    """
    chords = {
        beat - bar.start: tuple(group) for beat, group in groupby(notes, key=lambda note: note.beat)
    }
    if not chords and not held:
        return []
    glyphs = _Speller(chords, bar.meter, until - bar.start).spelled(held, bar.start)
    # A stroke between the steps of every window was passed over: better none than a wrong page.
    if sum(bool(glyph.notes) and not glyph.tied_from for glyph in glyphs) < len(chords):
        raise BadInput(
            "strokes are on places that note values cannot write", where=f"beat {bar.start}"
        )
    return bracketed(beamed(_with_long_rests(glyphs), bar.meter))


class _Speller:
    """One stream's bar in the making; beats count from the bar's start.

    `reach` is how far glyphs have been written, `sounding` a stroke that lasts beyond it and the
    beat it ends at.
    """

    def __init__(
        self, chords: dict[Fraction, tuple[Note, ...]], meter: Meter, limit: Fraction
    ) -> None:
        self.chords, self.meter = chords, meter
        self.nexts = dict(pairwise([*chords, limit]))
        inside = tuple((int(beat * UNIT), "") for beat in chords)
        names = {note.value for struck in chords.values() for note in struck}
        rare = tuple(sorted(names - USUAL_VALUES.keys()))
        found = note_windows(inside, meter, (replace(EXACT[0], rare=rare),))
        self.spans = [span for window in found for span in self._narrowed(window)]
        self.glyphs: list[Glyph] = []
        self.reach = Fraction(0)
        self.sounding: tuple[tuple[Note, ...], Fraction] | None = None

    def _narrowed(self, span: NoteWindow) -> Iterator[NoteWindow]:
        """Yield a tuplet's halves where they can be read alone, else the span as it is.

        Six in a row stay a sextuplet, a triplet of eighths with two sixteenths in it stays one; a
        half with a stroke on its first step alone is no tuplet. Halves begin with a stroke.
        """
        value = NOTE_VALUES[span.value]
        count = int(span.length / value.length)
        half = count // 2
        first = tuple(step for step in span.steps if step < half)
        second = tuple(step - half for step in span.steps if step >= half)
        full = len(span.steps) == count <= WHOLE_TUPLET
        kept = full or self._family(span).length * value.actual == span.length
        late = (second and second[0]) or (first and first[0] and set(second) > {0})
        if value.actual == 1 or count % 2 or kept or late:
            yield span
            return
        for start, steps in ((span.start, first), (span.start + span.length / 2, second)):
            part = replace(span, start=start, length=span.length / 2, steps=steps)
            if set(steps) <= {0}:
                yield replace(part, value=_NAMES[part.length])
            else:
                yield from self._narrowed(part)

    def _family(self, span: NoteWindow) -> NoteValue:
        """Return the largest tuplet value of a span's strokes, of which the tuplet is made."""
        finest = NOTE_VALUES[span.value]
        beats = (span.start + step * finest.length for step in span.steps)
        values = [NOTE_VALUES[note.value] for beat in beats for note in self.chords.get(beat, ())]
        alike = [
            value
            for value in values
            if value.actual == finest.actual and value.length * value.actual <= span.length
        ]
        return max([finest, *alike], key=lambda value: value.length)

    def spelled(self, held: Sequence[Note], start: Fraction) -> list[Glyph]:
        """Return the bar's glyphs; `held` notes began in the bar before."""
        if held:
            end = held[0].beat - start + _asked(held)
            self._hold(tuple(held), Fraction(0), min([end, *self.chords]), begun=True)
        for at, span in enumerate(self.spans):
            if _plain(NOTE_VALUES[span.value]):
                self._plain_span(span)
            else:
                after = self.spans[at + 1] if at + 1 < len(self.spans) else None
                self._tuplet_span(span, after)
        return self.glyphs

    def _hold(
        self, notes: tuple[Note, ...], begin: Fraction, end: Fraction, *, begun: bool = False
    ) -> None:
        """Write a stroke as notes tied to one another, as far as plain note values go."""
        # A plain note cannot be tied into a tuplet and stay readable: it ends where one begins.
        tuplets = (
            span.start
            for span in self.spans
            if span.start >= begin and not _plain(NOTE_VALUES[span.value])
        )
        far = min(end, next(tuplets, self.meter.length))
        mains, graces = _parted(notes)
        for start, length in tied_notes(begin, far, self.meter) if far > begin else ():
            base, dots = SINGLE_NOTES[length]
            self.glyphs.append(
                Glyph(start, length, base, dots, mains, tied_from=begun, graces=graces,
                      tied_on=start + length < end)
            )  # fmt: skip
            begun, graces = True, ()
        self.reach = far
        self.sounding = (mains, end) if far < end else None

    def _plain_span(self, span: NoteWindow) -> None:
        for begin, end in _edges(span):
            begin = max(begin, self.reach)
            if begin >= end:
                continue
            struck = self.chords.get(begin, ())
            asked = min(begin + _asked(struck), self.nexts[begin]) if struck else begin
            # A buzz is heard until it is let go, as it is judged: nobody shall roll into a rest.
            held = asked > begin and any(note.buzz for note in struck)
            stop = min(end, asked) if held else end
            natural = next(_pieces_between(span, begin, stop, struck=bool(struck)))
            # Only a value that asks for more than the window gives is worth a tie; a shorter one
            # fills its window, as drum parts are written, rather than leave tiny rests behind.
            if asked > begin + natural.length:
                self._hold(struck, begin, asked)
            elif struck:
                mains, graces = _parted(struck)
                self.glyphs.append(replace(natural, notes=mains, graces=graces))
                self.reach = begin + natural.length
            if self.reach < end:
                begin = max(begin, self.reach)
                self.glyphs += _pieces_between(span, begin, end, struck=False)
                self.reach = end

    def _tuplet_span(self, span: NoteWindow, after: NoteWindow | None) -> None:
        """Write a span of tuplets: each stroke as long as it may be, then rests."""
        value = NOTE_VALUES[span.value]
        count = int(span.length / self._family(span).length)
        tuplet = (count, count * value.normal // value.actual) if value.actual > 1 else None
        for begin, end in _edges(span):
            notes, begun, stop = self.chords.get(begin, ()), False, end
            if not notes and self.sounding and begin == span.start:
                (notes, stop), begun = self.sounding, True
                # What sounds on into the tuplet ends on one of the tuplet's own steps.
                stop = min(span.start + -(-(stop - begin) // value.length) * value.length, end)
            self.sounding = None
            mains, graces = _parted(notes)
            pieces = list(_pieces_between(span, begin, stop, struck=bool(notes)))
            pieces[0] = replace(pieces[0], notes=mains, graces=graces, tied_from=begun)
            pieces += _pieces_between(span, stop, end, struck=False)
            self.glyphs += [
                replace(
                    piece,
                    tuplet=tuplet,
                    opens=tuplet is not None and piece.beat == span.start,
                    closes=tuplet is not None
                    and piece.beat + piece.length == span.start + span.length,
                )
                for piece in pieces
            ]
        self.reach = span.start + span.length
        self._over(span, after)

    def _over(self, span: NoteWindow, after: NoteWindow | None) -> None:
        """Tie the last stroke of a tuplet to the next one of its kind, where it lasts into it."""
        last = self.glyphs[-1]
        if not last.notes or last.tied_from or not after or after.value != span.value:
            return
        end = min(last.beat + _asked(last.notes, tuplets=True), self.nexts[last.beat])
        if end > self.reach:
            self.glyphs[-1] = replace(last, tied_on=True)
            self.sounding = (last.notes, end)


def _plain(value: NoteValue) -> bool:
    """Return whether a value is plain or dotted and no finer than 64ths: it can be tied."""
    return value.actual == 1 and value.length % GRAIN == 0


_NAMES = {value.length: value.name for value in NOTE_VALUES.values() if value.actual == 1}


def _edges(span: NoteWindow) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield where each stroke of a span begins and the next one (or the span) ends it."""
    size = NOTE_VALUES[span.value].length
    edges = sorted({0, *span.steps, int(span.length / size)})
    return pairwise(span.start + edge * size for edge in edges)


def _asked(notes: Sequence[Note], *, tuplets: bool = False) -> Fraction:
    """Return how long a stroke is written to last, in quarter notes; 0 for what cannot be tied."""
    values = [NOTE_VALUES[note.value] for note in notes if not note.grace]
    lengths = (value.length for value in values if tuplets or _plain(value))
    return max(lengths, default=Fraction(0))


def _parted(notes: Sequence[Note]) -> tuple[tuple[Note, ...], tuple[Note, ...]]:
    """Return main strokes and grace strokes."""
    return tuple(n for n in notes if not n.grace), tuple(n for n in notes if n.grace)


def _pieces_between(
    span: NoteWindow, begin: Fraction, end: Fraction, *, struck: bool
) -> Iterator[Glyph]:
    """Yield glyphs without notes that fill a stretch of a span."""
    value = NOTE_VALUES[span.value]
    if (begin - span.start) % value.length or (end - span.start) % value.length:
        value = NOTE_VALUES["64"]
    first, after = (int((beat - span.start) / value.length) for beat in (begin, end))
    for step, base, dots, size in _pieces(first, after, value, struck):
        yield Glyph(span.start + step * value.length, size * value.length, base, dots)


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
