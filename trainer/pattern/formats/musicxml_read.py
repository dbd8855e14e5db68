"""MusicXML read as a pattern: the percussion part of a score, with its repeats written out.

The part with the most unpitched notes is read. Drums come from the part's MIDI instruments through
the note map, else from the place on the staff; levels from accents and parenthesised heads; hands
from a sticking in the lyrics, else they strictly alternate and `assumed` says so; note values from
the shortest grid. What `trainer.pattern.formats.musicxml_write` hid beside the notation is used as
it is. Jumps other than repeats and endings (dal segno, coda) are not followed, and reported.

The XML of a stranger is read in bounded time and memory, without a network. Only elements,
attributes and text are kept. A document that declares entities is refused (none of the formats
read here needs them, and they are how a short file becomes a huge one); a named document type is
skipped and never fetched.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn
from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from trainer.errors import BadInput, named
from trainer.file_system import read_bytes
from trainer.kit.model import GENERAL_MIDI, Kit
from trainer.kit.voices import ROW, VOICES
from trainer.pattern.formats.assumptions import HANDS_ALTERNATE, playable_tempo
from trainer.pattern.formats.musicxml_measures import PartDrums, read_measures
from trainer.pattern.formats.musicxml_notes import SOFTWARE
from trainer.pattern.language.rows import WrittenStroke, with_limbs
from trainer.pattern.model import (
    FOOT_LIMB,
    MAX_BARS,
    MAX_STROKES,
    NOTE_VALUES,
    Bar,
    Level,
    Limb,
    Note,
    Pattern,
    Section,
    note_order,
)
from trainer.pattern.rhythm import written_values
from trainer.pattern.staff import sticking_limbs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.pattern.formats.musicxml_measures import Chord, Head, Measure


MAX_BYTES = 64 * 2**20
MAX_ELEMENTS = 2_000_000
MAX_DEPTH = 64


def read_xml(source: Path | str | bytes) -> Element:
    """Return the root element of a file, or of the bytes of one.

    Raises BadInput, without the file's name, for what cannot be opened, is no XML (the message
    names the line), is too large or too deep, or declares entities.
    """
    data = source if isinstance(source, bytes) else read_bytes(Path(source), MAX_BYTES)
    if data[:2] == b"PK":
        raise BadInput("this is a compressed file", fix="save it uncompressed, as .musicxml")
    if len(data) > MAX_BYTES:
        raise BadInput(f"the file is larger than {MAX_BYTES // 2**20} MB", fix="split it")
    return _XmlBuilder().build(data)


class _XmlBuilder:
    """Feeds a document through expat, counting."""

    def __init__(self) -> None:
        self.tree = TreeBuilder()
        self.elements = self.depth = 0
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self.tree.data
        self.parser.EntityDeclHandler = self._entity

    def build(self, data: bytes) -> Element:
        try:
            self.parser.Parse(data, True)
        except expat.ExpatError as error:
            raise BadInput(
                f"this is no XML ({expat.ErrorString(error.code)})",
                where=f"line {error.lineno}",
                fix="export the file again",
            ) from error
        except (ValueError, LookupError) as error:
            raise BadInput("the file is in an unknown encoding", fix="save it in UTF-8") from error
        return self.tree.close()

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        self.elements += 1
        self.depth += 1
        if self.elements > MAX_ELEMENTS:
            self._refuse(f"the file has more than {MAX_ELEMENTS:,} elements", "split it")
        if self.depth > MAX_DEPTH:
            self._refuse("the file is nested too deep", "export the file again")
        self.tree.start(tag, attributes)

    def _end(self, tag: str) -> None:
        self.depth -= 1
        self.tree.end(tag)

    def _entity(self, *_: object) -> None:
        self._refuse("the file declares entities, which are not read", "export the file again")

    def _refuse(self, what: str, fix: str) -> NoReturn:
        raise BadInput(what, where=f"line {self.parser.CurrentLineNumber}", fix=fix)


def play_order(measures: Sequence[Measure]) -> list[tuple[int, int]]:
    """Return (measure index, turn) in the order of playing; turns count from 1.

    Raises BadInput where the repeats make more bars than a pattern may have.
    """
    order: list[tuple[int, int]] = []
    at = start = 0
    turn = 1
    while at < len(measures):
        measure = measures[at]
        if measure.forward and at != start:
            start, turn = at, 1
        if not measure.endings or turn in measure.endings:
            order.append((at, turn))
            if len(order) > MAX_BARS:
                raise BadInput(f"the repeats make more than {MAX_BARS:,} bars", fix="repeat less")
            if measure.times and turn < _turns(measures, at):
                at, turn = start, turn + 1
                continue
            if measure.times or _last_ending(measures, at):
                start, turn = at + 1, 1
        at += 1
    return order


def _turns(measures: Sequence[Measure], at: int) -> int:
    """Return how often the repeat that ends at a measure is played."""
    measure = measures[at]
    following = measures[at + 1].endings if at + 1 < len(measures) else frozenset()
    if measure.endings and following:
        return max(following)
    return measure.times


def _last_ending(measures: Sequence[Measure], at: int) -> bool:
    return bool(measures[at].endings) and (at + 1 == len(measures) or not measures[at + 1].endings)


def played_sections(measures: Sequence[Measure], order: Sequence[tuple[int, int]]) -> list[Section]:
    """Return the sections of what is played: each from its mark to the next one's.

    Where no section is marked, every plain repeat is one.
    """
    marked = [(bar, measures[at].section) for bar, (at, turn) in enumerate(order) if turn == 1]
    starts = [(bar, section) for bar, section in marked if section]
    ends = [*(bar for bar, _ in starts[1:]), len(order)]
    found = []
    for (first, (title, times)), end in zip(starts, ends, strict=False):
        whole = (end - first) % times == 0 if times else False
        found.append(Section(title, first, end - first, times if whole else 1))
    return found or _repeat_sections(measures, order)


def _repeat_sections(
    measures: Sequence[Measure], order: Sequence[tuple[int, int]]
) -> list[Section]:
    """Return a section for each run of measures that is played more than once in full."""
    found, first = [], 0
    for bar, (at, turn) in enumerate(order):
        last = bar + 1 == len(order) or order[bar + 1][1] < turn or order[bar + 1][0] > at + 1
        if bar + 1 < len(order) and order[bar + 1][1] == turn == 1 and measures[at + 1].forward:
            last = True
        if last:
            count = bar + 1 - first
            plain = turn > 1 and not any(measures[one].endings for one, _ in order[first : bar + 1])
            if plain and count % turn == 0:
                found.append(Section("", first, count, turn))
            first = bar + 1
    return found


def read(source: Path | str | bytes, name: str = "", kit: Kit = GENERAL_MIDI) -> Pattern:
    """Read a MusicXML file, or the bytes of one, as a pattern called `name` (else as the file).

    Raises BadInput, naming the file and the measure, for what is no MusicXML, has no percussion,
    or is larger than a pattern may be.
    """
    where = name or ("the MusicXML file" if isinstance(source, bytes) else Path(source).name)
    with named(where):
        return _pattern(read_xml(source), name or Path(where).stem, kit)


def _pattern(root: Element, name: str, kit: Kit) -> Pattern:
    part = _percussion(root)
    heads = {one.get("id"): one for one in root.iterfind("part-list/score-part")}
    drums = PartDrums(heads.get(part.get("id")), kit)
    measures = read_measures(part, drums)
    order = play_order(measures)
    bars, places = _bars(measures, order)
    own = SOFTWARE in [one.text for one in root.iterfind("identification/encoding/software")]
    fields = {
        one.get("name", ""): one.text or ""
        for one in root.iterfind("identification/miscellaneous/miscellaneous-field")
    }
    assumed = [fields[key] for key in fields if key.startswith("assumed ")] if own else []
    notes, reported = (_own_notes if own else _strange_notes)(places, bars)
    if not notes:
        raise BadInput("the file has no percussion", fix="export the drum part")
    if len(notes) > MAX_STROKES:
        raise BadInput(f"the file has more than {MAX_STROKES:,} strokes", fix="shorten it")
    if drums.unknown:
        reported.append(f"left out: {drums.unknown} notes that are no drum of the kit")
    if any(measure.jumps for measure in measures):
        reported.append("form: jumps (da capo, dal segno, coda) are not followed")
    tempo, unit, words = playable_tempo(_tempo(measures))
    level = fields.get("level", "")
    return Pattern(
        name=name,
        title=_title(root) or name,
        bars=bars,
        notes=tuple(sorted(notes, key=note_order)),
        sections=tuple(played_sections(measures, order)),
        about=fields.get("about", "") if own else "",
        tags=tuple(fields[key] for key in fields if key.startswith("tag ")) if own else (),
        level=int(level) if own and level.isdecimal() and len(level) < 3 else None,
        tempo=tempo,
        tempo_unit=unit,
        assumed=(*assumed, *reported, *words),
    )


def _percussion(root: Element) -> Element:
    """Return the part with the most unpitched notes."""
    if root.tag != "score-partwise":
        what = "is ordered by time" if root.tag == "score-timewise" else "is no MusicXML score"
        raise BadInput(f"the file {what}", fix="export it as MusicXML by parts")
    parts = root.findall("part")
    counts = [sum(1 for _ in part.iterfind("measure/note/unpitched")) for part in parts]
    if not any(counts):
        raise BadInput("the file has no percussion", fix="export the drum part")
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
            note = Note(beat, head.voice, limb, head.level, head.zone, values[foot, beat])
            graces = 0 if foot or head is not hands[0] else len(chord.graces)
            rows.setdefault((beat, head.voice, head.zone, limb), WrittenStroke(note, graces))
    inferred = any(row.note.limb is None for row in rows.values())
    return with_limbs(list(rows.values()), [], None), [HANDS_ALTERNATE] if inferred else []
