"""The measures of a MusicXML part: drums, chords at exact places, and the signs of form.

Places count in quarter notes from the measure's start. Nothing is repeated or named here yet.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.errors import BadInput, named
from trainer.kit.voices import VOICES, full_zone
from trainer.pattern.formats.assumptions import short_meter
from trainer.pattern.formats.musicxml_notes import BEAT_UNITS, PART, SECTION
from trainer.pattern.model import Level, Meter
from trainer.pattern.staff import voice_at

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    from trainer.kit.model import Kit


_OWN_NAME = re.compile(rf"{PART}-([a-z0-9]+)-([a-z-]+)", re.ASCII)
_NUMBER = re.compile(r"\d{1,3}", re.ASCII)

Drum = tuple[str, str]
"""A voice and a zone, empty for the ordinary one."""


class PartDrums:
    """The instruments of one part; `unknown` counts the notes that are no drum of the kit."""

    def __init__(self, score_part: Element | None, kit: Kit) -> None:
        self.unknown = 0
        self._by_id: dict[str, Drum] = {}
        for midi in score_part.iterfind("midi-instrument") if score_part is not None else ():
            number = (midi.findtext("midi-unpitched") or "").strip()
            # The standard counts these notes from 1.
            pad = kit.pad(int(number) - 1) if _NUMBER.fullmatch(number) else None
            if pad:
                self._by_id[midi.get("id", "")] = _drum(pad.voice, pad.zone)

    def find(self, note: Element) -> Drum | None:
        """Return the drum of a note: by our own name, its MIDI note, or its place on the staff."""
        unpitched = note.find("unpitched")
        if unpitched is None:
            self.unknown += 1
            return None
        instrument = note.find("instrument")
        name = instrument.get("id", "") if instrument is not None else ""
        drum = _own_drum(name) or self._by_id.get(name) or _on_staff(note, unpitched)
        self.unknown += drum is None
        return drum


def _drum(voice: str, zone: str) -> Drum:
    return voice, "" if zone == full_zone(voice, "") else zone


def _own_drum(name: str) -> Drum | None:
    found = _OWN_NAME.fullmatch(name)
    if not found or found[1] not in VOICES or found[2] not in VOICES[found[1]].zones:
        return None
    return _drum(found[1], found[2])


def _on_staff(note: Element, unpitched: Element) -> Drum | None:
    step = unpitched.findtext("display-step") or "C"
    octave = (unpitched.findtext("display-octave") or "5").strip()
    head = (note.findtext("notehead") or "normal").strip()
    if not _NUMBER.fullmatch(octave):
        return None
    found = voice_at(step.strip(), int(octave), head)
    return _drum(*found) if found else None


LONGEST = 256
"""The most quarter notes a measure may last."""

_UNITS = {1, 2, 4, 8, 16, 32, 64}
_UNIT_OF = {name_dots: unit for unit, name_dots in BEAT_UNITS.items()}
_WHOLE = re.compile(r"\d{1,9}", re.ASCII)
_ACCENTS = ("accent", "strong-accent")


@dataclass(slots=True)
class Head:
    """One notehead: its drum, its level, and what our own files hide beside it."""

    voice: str
    zone: str
    level: Level
    hidden: dict[str, str]


@dataclass(slots=True)
class Chord:
    """Noteheads struck together, the sets of grace strokes before them, and the lyric below."""

    place: Fraction
    heads: list[Head]
    graces: list[list[Head]]
    text: str = ""


@dataclass(slots=True)
class Measure:
    """One measure as written; `section` is the title and count of a section that starts here.

    `times` is above 0 at a backward repeat; `endings` are the turns that play it (empty: all).
    """

    meter: Meter
    chords: list[Chord] = field(default_factory=list)
    forward: bool = False
    times: int = 0
    endings: frozenset[int] = frozenset()
    section: tuple[str, int] | None = None
    tempo: tuple[float, Fraction] | None = None
    jumps: bool = False


def read_measures(part: Element, drums: PartDrums) -> list[Measure]:
    """Return the part's measures; raises BadInput naming the measure."""
    state = _State(drums)
    measures = []
    for count, element in enumerate(part.iterfind("measure"), 1):
        with named(f"measure {count}"):
            measures.append(state.measure(element))
    return measures


class _State:
    """What carries over from measure to measure: divisions, meter, open endings."""

    def __init__(self, drums: PartDrums) -> None:
        self.drums = drums
        self.divisions = 1
        self.meter = Meter()
        self.endings: frozenset[int] = frozenset()

    def measure(self, element: Element) -> Measure:
        made = Measure(self.meter)
        now = furthest = Fraction(0)
        start: Fraction = now
        waiting: dict[str, list[list[Head]]] = {}
        chords: dict[str, Chord] = {}
        for item in element:
            if item.tag == "note":
                length = Fraction(0)
                if item.find("grace") is None:
                    length = self._duration(item)
                if item.find("chord") is None:
                    start, now = now, now + length
                self._note(item, start, made, waiting, chords)
            elif item.tag == "backup":
                now = max(now - self._duration(item), Fraction(0))
            elif item.tag == "forward":
                now += self._duration(item)
            elif item.tag == "attributes":
                self._attributes(item)
                made.meter = self.meter
            else:
                self._form(item, made)
            furthest = max(furthest, now)
            if furthest > LONGEST:
                raise BadInput("the measure has no end", fix="export the file again")
        made.meter = _fitting(made.meter, furthest, implicit=element.get("implicit") == "yes")
        return made

    def _duration(self, item: Element) -> Fraction:
        return Fraction(_whole(item, "duration", 0), self.divisions)

    def _attributes(self, item: Element) -> None:
        self.divisions = _whole(item, "divisions", self.divisions)
        if not self.divisions:
            raise BadInput("a quarter note has no divisions", fix="export the file again")
        time = item.find("time")
        beats = time.findtext("beats") if time is not None else None
        if time is not None and beats:
            parts = [part.strip() for part in beats.split("+")]
            unit = _whole(time, "beat-type", 4)
            if not all(map(_WHOLE.fullmatch, parts)) or unit not in _UNITS:
                raise BadInput("the meter cannot be read", fix="correct it")
            count = sum(int(part) for part in parts)
            if not 1 <= count <= 64:
                raise BadInput(f"a meter of {count}/{unit} cannot be played", fix="correct it")
            self.meter = Meter(count, unit)

    def _note(
        self,
        item: Element,
        start: Fraction,
        made: Measure,
        waiting: dict[str, list[list[Head]]],
        chords: dict[str, Chord],
    ) -> None:
        """Take up one note: a grace stroke waits for the next chord of its voice."""
        ties = {tie.get("type") for tie in item.iterfind("tie")}
        if item.find("rest") is not None or item.find("cue") is not None or "stop" in ties:
            return
        spot = self.drums.find(item)
        if spot is None:
            return
        head = Head(*spot, _level(item), _hidden(item))
        voice = item.findtext("voice") or "1"
        joined = item.find("chord") is not None
        if item.find("grace") is not None:
            sets = waiting.setdefault(voice, [])
            if joined and sets:
                sets[-1].append(head)
            else:
                sets.append([head])
            return
        if joined and voice in chords and chords[voice].place == start:
            chords[voice].heads.append(head)
            return
        text = (item.findtext("lyric/text") or "").strip()
        chords[voice] = Chord(start, [head], waiting.pop(voice, []), text)
        made.chords.append(chords[voice])

    def _form(self, item: Element, made: Measure) -> None:
        """Take up bar lines, directions and sounds."""
        if item.tag == "barline":
            self._barline(item, made)
            return
        sounds = [item] if item.tag == "sound" else item.findall("sound")
        for sound in sounds:
            made.jumps |= any(sound.get(word) for word in ("dacapo", "dalsegno", "tocoda", "coda"))
            bpm = _decimal(sound.get("tempo"))
            if bpm and not made.tempo:
                made.tempo = (bpm, Fraction(1))
        if item.tag == "direction":
            self._direction(item, made)

    def _direction(self, item: Element, made: Measure) -> None:
        metronome = item.find("direction-type/metronome")
        if metronome is not None:
            key = (metronome.findtext("beat-unit") or "", len(metronome.findall("beat-unit-dot")))
            bpm = _decimal(metronome.findtext("per-minute"))
            if bpm and key in _UNIT_OF:
                made.tempo = (bpm, _UNIT_OF[key])
        rehearsal = item.findtext("direction-type/rehearsal")
        if rehearsal:
            made.section = (rehearsal, 1)
        hidden = (item.findtext("direction-type/other-direction") or "").split()
        if len(hidden) == 2 and hidden[0] == SECTION and _WHOLE.fullmatch(hidden[1]):
            made.section = (item.findtext("direction-type/words") or "", int(hidden[1]))

    def _barline(self, item: Element, made: Measure) -> None:
        repeat, ending = item.find("repeat"), item.find("ending")
        if ending is not None and ending.get("type") == "start":
            self.endings = frozenset(map(int, _WHOLE.findall(ending.get("number") or "")))
            made.endings = self.endings
        elif self.endings:
            made.endings = self.endings
        if ending is not None and ending.get("type") in ("stop", "discontinue"):
            self.endings = frozenset()
        if repeat is not None and repeat.get("direction") == "forward":
            made.forward = True
        elif repeat is not None:
            times = repeat.get("times") or "2"
            made.times = max(int(times), 1) if _WHOLE.fullmatch(times) else 2


def _fitting(meter: Meter, length: Fraction, *, implicit: bool) -> Meter:
    """Return the meter of a bar by what it holds: shorter for a pickup, longer where overfull."""
    if length < meter.length:
        return (short_meter(length, meter) if implicit else None) or meter
    if length == meter.length:
        return meter
    for unit in sorted(_UNITS):
        beats = length * unit / 4
        if unit >= meter.unit and beats.denominator == 1:
            return Meter(int(beats), unit)
    raise BadInput(f"the measure does not fit {meter}", fix="correct its notes or its meter")


def _level(item: Element) -> Level:
    head = item.find("notehead")
    if head is not None and head.get("parentheses") == "yes":
        return Level.GHOST
    found = item.iterfind("notations/articulations/*")
    return Level.ACCENT if any(one.tag in _ACCENTS for one in found) else Level.NORMAL


def _hidden(item: Element) -> dict[str, str]:
    words = (item.findtext("notations/other-notation") or "").split()
    return dict(zip(words[::2], words[1::2], strict=False))


def _whole(item: Element, tag: str, default: int) -> int:
    text = item.findtext(tag)
    if text is None:
        return default
    number = _decimal(text)
    if number is None or number != int(number) or number < 0:
        raise BadInput(f"the {tag} is no whole number", fix="export the file again")
    return int(number)


def _decimal(text: str | None) -> float | None:
    found = re.fullmatch(r"\s*(\d{1,9}(?:\.\d{1,12})?)\s*", text or "", re.ASCII)
    return float(found[1]) if found else None
