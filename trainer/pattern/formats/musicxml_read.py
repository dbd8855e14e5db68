"""MusicXML read as a pattern: the percussion part of a score, with its repeats written out.

The part with the most strokes is read, with those that add other drums of the kit. Which drum a
note means is in `musicxml_drums`, what is above and below the notes in `musicxml_measures`, the
order of playing in `musicxml_form`. Levels come from accents and parenthesised heads; hands from a
sticking in lyrics, fingerings or words, else they are assumed; note values from the shortest grid.
What `trainer.pattern.formats.musicxml_write` hid beside the notation is used as it is. What is
written and cannot be read is reported in `assumed`, a line for each kind.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import BadInput, named
from trainer.kit.model import GENERAL_MIDI, Kit
from trainer.kit.voices import ROW, VOICES
from trainer.pattern.formats.assumptions import (
    LONE_KICK,
    lone_kick,
    playable_tempo,
)
from trainer.pattern.formats.musicxml_drums import PartDrums, drum_notes
from trainer.pattern.formats.musicxml_feel import (
    FoundFeel,
    dynamics_of,
    swings_of,
    tempo_changes_of,
)
from trainer.pattern.formats.musicxml_file import read_score
from trainer.pattern.formats.musicxml_form import play_order, played_sections
from trainer.pattern.formats.musicxml_measures import Losses, read_measures
from trainer.pattern.formats.musicxml_notes import SOFTWARE
from trainer.pattern.json_data import read_feel
from trainer.pattern.language.rows import HANDS_ASSUMED, WrittenStroke, with_limbs
from trainer.pattern.model import (
    FOOT_LIMB,
    HAND_ASSUMED,
    MAX_STROKES,
    NOTE_VALUES,
    Bar,
    Level,
    Limb,
    Note,
    Pattern,
    note_order,
)
from trainer.pattern.rhythm import written_values
from trainer.pattern.staff import sticking_limbs

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from xml.etree.ElementTree import Element

    from trainer.pattern.formats.musicxml_measures import Chord, Head, Measure


def read(source: Path | str | bytes, name: str = "", kit: Kit = GENERAL_MIDI) -> Pattern:
    """Read a MusicXML file, or the bytes of one, as a pattern called `name` (else as the file).

    Raises BadInput, naming the file and the measure, for what is no MusicXML, has no percussion,
    or is larger than a pattern may be.
    """
    where = name or ("the MusicXML file" if isinstance(source, bytes) else Path(source).name)
    with named(where):
        return _pattern(read_score(source), name or Path(where).stem, kit)


def _pattern(root: Element, name: str, kit: Kit) -> Pattern:
    own = SOFTWARE in [one.text for one in root.iterfind("identification/encoding/software")]
    losses = Losses()
    measures, assumed = _kit_measures(root, kit, losses, own=own)
    order, not_followed = play_order(measures)
    bars, places = _bars(measures, order)
    notes, hands = (_own_notes if own else _strange_notes)(places, bars)
    if not notes:
        raise BadInput("the file has no percussion", fix="export the drum part")
    if len(notes) > MAX_STROKES:
        raise BadInput(f"the file has more than {MAX_STROKES:,} strokes", fix="shorten it")
    feel = FoundFeel()
    for bar, (at, _) in zip(bars, order, strict=True):
        feel.add(measures[at].feel, bar.start)
    first = feel.tempos[0][1:] if feel.tempos else None
    tempo, unit, words = playable_tempo(first)
    end = bars[-1].end
    pattern = Pattern(
        name=name,
        title=_title(root) or name,
        bars=bars,
        notes=tuple(sorted(notes, key=note_order)),
        sections=tuple(played_sections(measures, order)),
        tempo=tempo,
        tempo_unit=unit,
        assumed=(*assumed, *hands, *not_followed, *words, *losses.words()),
        swing=swings_of(feel, end),
        tempo_changes=tempo_changes_of(feel, end, tempo, unit),
        dynamics=dynamics_of(feel, end),
    )
    return _with_own_fields(pattern, root) if own else pattern


def _with_own_fields(pattern: Pattern, root: Element) -> Pattern:
    """Return a pattern with what a file of our own says in fields that are not printed."""
    fields = {
        one.get("name", ""): one.text or ""
        for one in root.iterfind("identification/miscellaneous/miscellaneous-field")
    }
    level = fields.get("level", "")
    assumed = [fields[key] for key in fields if key.startswith("assumed ")]
    return replace(
        read_feel(fields.get("feel", "{}").encode()).over(pattern),
        about=fields.get("about", ""),
        tags=tuple(fields[key] for key in fields if key.startswith("tag ")),
        level=int(level) if level.isdecimal() and len(level) < 3 else None,
        assumed=(*assumed, *pattern.assumed),
    )


def _kit_measures(
    root: Element, kit: Kit, losses: Losses, *, own: bool
) -> tuple[list[Measure], list[str]]:
    """Return the measures of the kit, and what was assumed about its drums.

    The part with the most strokes is the kit. Parts of drums that it lacks belong to it: some
    programs write a staff for each drum.
    """
    (part, head), *others = _percussion(root)
    drums = PartDrums(head, part, kit)
    measures = read_measures(part, drums, losses, own=own)
    voices = {one.voice for one in _all_heads(measures)}
    joined, left = [_name_of(head)], []
    for other, other_head in others:
        added = PartDrums(other_head, other, kit)
        more = read_measures(other, added, Losses(), own=own)
        new = {one.voice for one in _all_heads(more)}
        if new and not new & voices and _fit(measures, more):
            voices |= new
            joined.append(_name_of(other_head))
            drums.unknown += added.unknown
            for one, two in zip(measures, more, strict=True):
                one.chords += two.chords
        else:
            count = drum_notes(other)
            left.append(f'left out: the percussion part "{_name_of(other_head)}", {count} notes')
    for other in root.iterfind("part"):
        if other is not part:
            _add_other_staff(measures, other)
    if len(joined) > 1:
        left.append(f"drums: {len(joined)} parts are one kit: {', '.join(joined)}")
    if drums.unknown:
        left.append(f"left out: {drums.unknown} notes that are no drum of the kit")
    if not own and lone_kick(voices):
        left.append(LONE_KICK)
        _move_to_kick(measures)
    return measures, [*drums.assumed, *left]


def _add_other_staff(measures: Sequence[Measure], part: Element) -> None:
    """Add what another part has above its staff: tempos, swing, jumps and letters of sections.

    They are those of the whole score, and many programs write them above the upper staff alone. A
    part that cannot be read adds nothing.
    """
    with suppress(BadInput):
        above = read_measures(part, None, Losses(), own=False)
        for one, other in zip(measures, above, strict=False):
            one.feel.add_missing(other.feel, one.meter.length)
            one.signs |= other.signs
            one.section = one.section or other.section


def _move_to_kick(measures: Sequence[Measure]) -> None:
    for one in _all_heads(measures):
        one.voice = "kick" if one.voice == "kick2" else one.voice


def _percussion(root: Element) -> list[tuple[Element, Element | None]]:
    """Return the percussion parts with their heads, the one with the most strokes first."""
    if root.tag != "score-partwise":
        what = "is ordered by time" if root.tag == "score-timewise" else "is no MusicXML score"
        raise BadInput(f"the file {what}", fix="export it as MusicXML by parts")
    heads = {one.get("id"): one for one in root.iterfind("part-list/score-part")}
    counts = [(drum_notes(part), part) for part in root.iterfind("part")]
    found = sorted(counts, key=lambda row: -row[0])
    if not found or not found[0][0]:
        raise BadInput("the file has no percussion", fix="export the drum part")
    return [(part, heads.get(part.get("id"))) for count, part in found if count]


def _name_of(head: Element | None) -> str:
    return " ".join((head.findtext("part-name") or "").split())[:60] if head is not None else ""


def _fit(one: Sequence[Measure], two: Sequence[Measure]) -> bool:
    """Return whether two parts have the same measures."""
    return [measure.meter for measure in one] == [measure.meter for measure in two]


def _all_heads(measures: Sequence[Measure]) -> Iterator[Head]:
    for measure in measures:
        for chord in measure.chords:
            yield from chord.heads
            for group in chord.graces:
                yield from group


def _title(root: Element) -> str:
    found = root.findtext("work/work-title") or root.findtext("movement-title") or ""
    return " ".join(found.split())[:200]


Places = list[tuple["Fraction", "Chord"]]
"""Every chord that is played, with its beat in the pattern."""


def _bars(
    measures: Sequence[Measure], order: Sequence[tuple[int, int]]
) -> tuple[tuple[Bar, ...], Places]:
    bars: list[Bar] = []
    places: Places = []
    start = Fraction(0)
    for at, _ in order:
        bars.append(Bar(start, measures[at].meter))
        places += [(start + chord.place, chord) for chord in measures[at].chords]
        start = bars[-1].end
        if len(places) > MAX_STROKES:
            raise BadInput(f"the file has more than {MAX_STROKES:,} strokes", fix="shorten it")
    return tuple(bars), sorted(places, key=lambda place: place[0])


def _own_notes(places: Places, bars: Sequence[Bar]) -> tuple[list[Note], list[str]]:
    """Return the notes of a file of our own, every word of it believed."""
    mains = [Note(beat, head.voice) for beat, chord in places for head in chord.heads]
    values = written_values(mains, bars)
    notes: list[Note] = []
    for beat, chord in places:
        heads = sorted(chord.heads, key=lambda head: ROW[head.voice])
        reported, reported_graces = sticking_limbs(chord.text)
        made = []
        for at, head in enumerate(heads):
            guess = reported[at] if at < len(reported) else FOOT_LIMB.get(head.voice)
            value = values[VOICES[head.voice].foot, beat]
            made.append(_own_note(head, Note(beat, head.voice, guess, value=value)))
        if len(made) == 1 and len(reported) == 2:
            made.append(replace(made[0], limb=reported[1]))
        notes += made
        graces = [
            (len(chord.graces) - place, head)
            for place, group in enumerate(chord.graces)
            for head in group
        ]
        for at, (number, head) in enumerate(graces):
            guess = reported_graces[at] if len(reported_graces) == len(graces) else None
            guess = guess or FOOT_LIMB.get(head.voice)
            note = Note(beat, head.voice, guess, value=made[0].value, grace=number)
            notes.append(_own_note(head, note))
    return notes, []


def _own_note(head: Head, guess: Note) -> Note:
    """Return a note with what its notehead shows and what is hidden beside it."""
    value, limb = head.hidden.get("value", ""), head.hidden.get("limb", "")
    level = head.hidden.get("level", "")
    note = replace(
        guess,
        level=Level(level) if level in tuple(Level) else head.level,
        zone=head.zone,
        buzz=head.buzz,
        hand_assumed=head.hidden.get("hand") == HAND_ASSUMED,
    )
    if value in NOTE_VALUES:
        note = replace(note, value=value)
    if limb:
        note = replace(note, limb=Limb(limb) if limb in tuple(Limb) else None)
    return note


def _strange_notes(places: Places, bars: Sequence[Bar]) -> tuple[list[Note], list[str]]:
    """Return the notes of somebody else's file, hands from the sticking or else assumed."""
    mains = [Note(beat, head.voice) for beat, chord in places for head in chord.heads]
    values = written_values(mains, bars)
    rows: dict[tuple[Fraction, str, str, Limb | None], WrittenStroke] = {}
    for beat, chord in places:
        heads = sorted(chord.heads, key=lambda head: ROW[head.voice])
        reported = list(sticking_limbs(chord.text)[0])
        hands = [head for head in heads if not VOICES[head.voice].foot]
        if len(hands) == 1 and len(reported) == 2:
            heads = [*heads, hands[0]]
        for head in heads:
            foot = VOICES[head.voice].foot
            limb = FOOT_LIMB[head.voice] if foot else (reported.pop(0) if reported else None)
            value = values[foot, beat]
            note = Note(beat, head.voice, limb, head.level, head.zone, value, buzz=head.buzz)
            graces = 0 if foot or head is not hands[0] else len(chord.graces)
            rows.setdefault((beat, head.voice, head.zone, limb), WrittenStroke(note, graces))
    inferred = any(row.note.limb is None for row in rows.values())
    drums = _grace_drums(places)
    notes = [
        replace(note, voice=drum[0], zone=drum[1])
        if note.grace and (drum := drums.get((note.beat, note.voice, note.grace)))
        else note
        for note in with_limbs(list(rows.values()), [], None)
    ]
    return notes, [HANDS_ASSUMED] if inferred else []


def _grace_drums(places: Places) -> dict[tuple[Fraction, str, int], tuple[str, str]]:
    """Return the drum of each grace stroke, by beat, drum of the main stroke, and number."""
    found = {}
    for beat, chord in places:
        hands = [head for head in chord.heads if not VOICES[head.voice].foot]
        main = min(hands, key=lambda head: ROW[head.voice], default=None)
        for place, group in enumerate(chord.graces if main else ()):
            assert main
            number = len(chord.graces) - place
            found[beat, main.voice, number] = group[0].voice, group[0].zone
    return found
