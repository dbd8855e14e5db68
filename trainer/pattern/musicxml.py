"""MusicXML as a pattern: the percussion part of a score, with its repeats written out.

The part with the most unpitched notes is read. Drums come from the part's MIDI instruments through
the note map, else from the place on the staff; levels from accents and parenthesised heads; hands
from a sticking in the lyrics, else they strictly alternate and `assumed` says so; note values from
the shortest grid. What `trainer.pattern.musicxml_write` hid beside the notation is taken at its
word. Jumps other than repeats and endings (dal segno, coda) are not followed, and told.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.note_map import GENERAL_MIDI, Kit
from trainer.kit.voices import ROW, VOICES
from trainer.pattern.letters import limbs
from trainer.pattern.model import Bar, Note, Pattern, note_order
from trainer.pattern.musicxml_drums import Drums
from trainer.pattern.musicxml_measure import read_measures
from trainer.pattern.musicxml_note import SOFTWARE
from trainer.pattern.musicxml_order import play_order, sections
from trainer.pattern.rhythm import written_values
from trainer.pattern.rows import Written, with_limbs
from trainer.pattern.smf_infer import ALTERNATE
from trainer.pattern.tables import FOOT_LIMB, MAX_STROKES, NOTE_VALUES, Level, Limb
from trainer.pattern.tempo import playable
from trainer.pattern.xml_file import read_xml

if TYPE_CHECKING:
    from collections.abc import Sequence
    from xml.etree.ElementTree import Element

    from trainer.pattern.musicxml_measure import Chord, Head, Measure


def read(source: Path | str | bytes, name: str = "", kit: Kit = GENERAL_MIDI) -> Pattern:
    """Read a MusicXML file, or the bytes of one, as a pattern called `name` (else as the file).

    Raises BadInput, naming the file and the measure, for what is no MusicXML, has no percussion,
    or is larger than a pattern may be.
    """
    where = name or ("the MusicXML file" if isinstance(source, bytes) else Path(source).name)
    try:
        return _pattern(read_xml(source), name or Path(where).stem, kit)
    except BadInput as error:
        error.at(where)
        raise


def _pattern(root: Element, name: str, kit: Kit) -> Pattern:
    part = _percussion(root)
    heads = {one.get("id"): one for one in root.iterfind("part-list/score-part")}
    drums = Drums(heads.get(part.get("id")), kit)
    measures = read_measures(part, drums)
    order = play_order(measures)
    bars, places = _bars(measures, order)
    own = SOFTWARE in [one.text for one in root.iterfind("identification/encoding/software")]
    fields = {
        one.get("name", ""): one.text or ""
        for one in root.iterfind("identification/miscellaneous/miscellaneous-field")
    }
    assumed = [fields[key] for key in fields if key.startswith("assumed ")] if own else []
    notes, told = (_own_notes if own else _strange_notes)(places, bars)
    if not notes:
        raise BadInput("the file has no percussion", mend="export the drum part")
    if len(notes) > MAX_STROKES:
        raise BadInput(f"the file has more than {MAX_STROKES:,} strokes", mend="shorten it")
    if drums.unknown:
        told.append(f"left out: {drums.unknown} notes that are no drum of the kit")
    if any(measure.jumps for measure in measures):
        told.append("form: jumps (da capo, dal segno, coda) are not followed")
    tempo, unit, words = playable(_tempo(measures))
    level = fields.get("level", "")
    return Pattern(
        name=name,
        title=_title(root) or name,
        bars=bars,
        notes=tuple(sorted(notes, key=note_order)),
        sections=tuple(sections(measures, order)),
        about=fields.get("about", "") if own else "",
        tags=tuple(fields[key] for key in fields if key.startswith("tag ")) if own else (),
        level=int(level) if own and level.isdecimal() and len(level) < 3 else 1,
        tempo=tempo,
        tempo_unit=unit,
        assumed=(*assumed, *told, *words),
    )


def _percussion(root: Element) -> Element:
    """Return the part with the most unpitched notes."""
    if root.tag != "score-partwise":
        what = "is ordered by time" if root.tag == "score-timewise" else "is no MusicXML score"
        raise BadInput(f"the file {what}", mend="export it as MusicXML by parts")
    parts = root.findall("part")
    counts = [sum(1 for _ in part.iterfind("measure/note/unpitched")) for part in parts]
    if not any(counts):
        raise BadInput("the file has no percussion", mend="export the drum part")
    return parts[counts.index(max(counts))]


def _title(root: Element) -> str:
    found = root.findtext("work/work-title") or root.findtext("movement-title") or ""
    return " ".join(found.split())[:200]


def _tempo(measures: Sequence[Measure]) -> tuple[float, Fraction] | None:
    return next((measure.tempo for measure in measures if measure.tempo), None)


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
            raise BadInput(f"the file has more than {MAX_STROKES:,} strokes", mend="shorten it")
    return tuple(bars), sorted(places, key=lambda place: place[0])


def _own_notes(places: Places, bars: Sequence[Bar]) -> tuple[list[Note], list[str]]:
    """Return the notes of a file of our own, every word of it believed."""
    mains = [Note(beat, head.voice) for beat, chord in places for head in chord.heads]
    values = written_values(mains, bars)
    notes: list[Note] = []
    for beat, chord in places:
        heads = sorted(chord.heads, key=lambda head: ROW[head.voice])
        told, told_graces = limbs(chord.text)
        made = []
        for at, head in enumerate(heads):
            guess = told[at] if at < len(told) else FOOT_LIMB.get(head.voice)
            value = values[VOICES[head.voice].foot, beat]
            made.append(_own_note(head, Note(beat, head.voice, guess, value=value)))
        if len(made) == 1 and len(told) == 2:
            made.append(replace(made[0], limb=told[1]))
        notes += made
        graces = [
            (len(chord.graces) - place, head)
            for place, group in enumerate(chord.graces)
            for head in group
        ]
        for at, (number, head) in enumerate(graces):
            guess = told_graces[at] if len(told_graces) == len(graces) else None
            guess = guess or FOOT_LIMB.get(head.voice)
            note = Note(beat, head.voice, guess, value=made[0].value, grace=number)
            notes.append(_own_note(head, note))
    return notes, []


def _own_note(head: Head, guess: Note) -> Note:
    """Return a note with what its notehead shows and what is hidden beside it."""
    value, limb = head.hidden.get("value", ""), head.hidden.get("limb", "")
    level = head.hidden.get("level", "")
    note = replace(
        guess, level=Level(level) if level in tuple(Level) else head.level, zone=head.zone
    )
    if value in NOTE_VALUES:
        note = replace(note, value=value)
    if limb:
        note = replace(note, limb=Limb(limb) if limb in tuple(Limb) else None)
    return note


def _strange_notes(places: Places, bars: Sequence[Bar]) -> tuple[list[Note], list[str]]:
    """Return the notes of somebody else's file, hands told by the lyrics or else alternating."""
    mains = [Note(beat, head.voice) for beat, chord in places for head in chord.heads]
    values = written_values(mains, bars)
    rows: dict[tuple[Fraction, str, str, Limb | None], Written] = {}
    for beat, chord in places:
        heads = sorted(chord.heads, key=lambda head: ROW[head.voice])
        told = list(limbs(chord.text)[0])
        hands = [head for head in heads if not VOICES[head.voice].foot]
        if len(hands) == 1 and len(told) == 2:
            heads = [*heads, hands[0]]
        for head in heads:
            foot = VOICES[head.voice].foot
            limb = FOOT_LIMB[head.voice] if foot else (told.pop(0) if told else None)
            note = Note(beat, head.voice, limb, head.level, head.zone, values[foot, beat])
            graces = 0 if foot or head is not hands[0] else len(chord.graces)
            rows.setdefault((beat, head.voice, head.zone, limb), Written(note, graces))
    inferred = any(row.note.limb is None for row in rows.values())
    return with_limbs(list(rows.values()), [], None), [ALTERNATE] if inferred else []
