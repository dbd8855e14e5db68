"""The measures of a MusicXML part: chords at exact places, the marks above them, signs of form.

Places count in quarter notes from the measure's start. Nothing is repeated or named here yet. What
is written and has no meaning here is counted, with the first measure it is in: nothing is lost
without a word.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction
from math import ceil
from typing import TYPE_CHECKING

from trainer.errors import BadInput, named
from trainer.pattern.formats.musicxml_feel import FoundFeel
from trainer.pattern.formats.musicxml_marks import (
    CODA,
    SEGNO,
    SOUNDS,
    WHOLE_NUMBER,
    fitted_meter,
    meter_of,
    sign_in_words,
    tempo_of,
    whole_of,
)
from trainer.pattern.formats.musicxml_notes import SECTION, times_words
from trainer.pattern.model import DYNAMICS, Level, Meter
from trainer.pattern.staff import sticking_limbs

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    from trainer.pattern.formats.musicxml_drums import PartDrums

LONGEST = 256
"""The most quarter notes a measure may last."""

_ACCENTS = ("accent", "strong-accent")
_HANDS_IN_WORDS = {"RH": "R", "LH": "L", "r": "R", "l": "L", "b": "B", "R.H.": "R", "L.H.": "L"}

_LOST_NOTATIONS = {
    "fermata": "fermatas",
    "slide": "slides",
    "glissando": "slides",
    "technical/stopped": "stopped strokes",
    "technical/open": "open strokes",
    "articulations/staccato": "staccato dots",
    "articulations/staccatissimo": "staccato dots",
    "articulations/stress": "stress marks",
    "articulations/unstress": "stress marks",
    "ornaments/trill-mark": "trills",
}
"""Signs beside a note that are not read, and what they are called."""

_SLOWING = re.compile(r"\b(rit|ritard|ritardando|rall|rallentando|accel|accelerando)\b", re.I)


@dataclass(slots=True)
class Head:
    """One notehead: its drum, its level, what our own files hide beside it, a buzz or none."""

    voice: str
    zone: str
    level: Level
    hidden: dict[str, str]
    buzz: bool = False


@dataclass(slots=True)
class Chord:
    """Noteheads struck together, the sets of grace strokes before them, and the sticking."""

    place: Fraction
    heads: list[Head]
    graces: list[list[Head]]
    text: str = ""


@dataclass(slots=True)
class Measure:
    """One measure as written; `section` is the title and count of a section that starts here.

    `times` is above 0 at a backward repeat; `endings` are the turns that play it (empty: all).
    `signs` are those of `trainer.pattern.formats.musicxml_marks`; `feel` has the marks of swing,
    tempo and dynamics.
    """

    meter: Meter
    chords: list[Chord] = field(default_factory=list)
    forward: bool = False
    times: int = 0
    endings: frozenset[int] = frozenset()
    section: tuple[str, int] | None = None
    feel: FoundFeel = field(default_factory=FoundFeel)
    signs: set[str] = field(default_factory=set)


class Losses:
    """What is not read, by its name: how often, and the number of the first measure with it."""

    def __init__(self) -> None:
        self._found: dict[str, list[int]] = {}

    def add(self, what: str, measure: int, count: int = 1) -> None:
        """Count a loss."""
        self._found.setdefault(what, []).extend([measure] * count)

    def words(self) -> list[str]:
        """Return a line for each kind."""
        return [
            f"left out: {what} ({len(found)}, first in measure {found[0]})"
            for what, found in self._found.items()
        ]


def read_measures(
    part: Element, drums: PartDrums | None, losses: Losses, *, own: bool
) -> list[Measure]:
    """Return the part's measures, without `drums` no notes; raises BadInput naming the measure.

    In a file of our `own`, words are titles and no signs.
    """
    state = _State(drums, losses, own)
    for element in part.iterfind("measure"):
        with named(f"measure {len(state.measures) + 1}"):
            state.measures.append(state.measure(element))
    return state.measures


class _State:
    """What carries over from measure to measure: divisions, meter, open endings, repeats."""

    def __init__(self, drums: PartDrums | None, losses: Losses, own: bool) -> None:
        self.drums, self.losses, self.own = drums, losses, own
        self.measures: list[Measure] = []
        self.divisions = 1
        self.meter = Meter()
        self.endings: frozenset[int] = frozenset()
        self.repeated = 0
        self.words: tuple[Fraction, str] | None = None

    def lost(self, what: str, count: int = 1) -> None:
        """Count a loss in the measure being read."""
        self.losses.add(what, len(self.measures) + 1, count)

    def measure(self, element: Element) -> Measure:
        made = Measure(self.meter)
        now = furthest = Fraction(0)
        start: Fraction = now
        waiting: dict[str, list[list[Head]]] = {}
        chords: dict[str, Chord] = {}
        self.words = None
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
            elif item.tag == "barline":
                self._barline(item, made)
            else:
                self._mark(item, now, made)
            furthest = max(furthest, now)
            if furthest > LONGEST:
                raise BadInput("the measure has no end", fix="export the file again")
        made.meter = fitted_meter(made.meter, furthest, implicit=element.get("implicit") == "yes")
        for graces in waiting.values():
            self.lost("grace strokes with no stroke after them", sum(map(len, graces)))
        self._repeat_measure(made)
        return made

    def _repeat_measure(self, made: Measure) -> None:
        """Play what a sign of a repeated measure means, where its notes are not written out."""
        if not self.repeated or made.chords:
            return
        if len(self.measures) < self.repeated:
            self.lost("signs that repeat a measure before the first")
            return
        made.chords = self.measures[-self.repeated].chords
        made.meter = self.measures[-self.repeated].meter

    def _duration(self, item: Element) -> Fraction:
        return Fraction(whole_of(item, "duration", 0), self.divisions)

    def _attributes(self, item: Element) -> None:
        self.divisions = whole_of(item, "divisions", self.divisions)
        if not self.divisions:
            raise BadInput("a quarter note has no divisions", fix="export the file again")
        time = item.find("time")
        if time is not None and time.findtext("beats"):
            self.meter = meter_of(time)
        for style in item.iterfind("measure-style"):
            repeat = style.find("measure-repeat")
            if repeat is not None:
                started = repeat.get("type") == "start"
                count = (repeat.text or "1").strip()
                self.repeated = int(count) if started and WHOLE_NUMBER.fullmatch(count) else 0
            for tag, words in (("beat-repeat", "repeated beats"), ("slash", "bars of slashes")):
                for sign in style.iterfind(tag):
                    if sign.get("type") == "start":
                        self.lost(f"signs for {words}")

    def _note(
        self,
        item: Element,
        start: Fraction,
        made: Measure,
        waiting: dict[str, list[list[Head]]],
        chords: dict[str, Chord],
    ) -> None:
        """Take up one note: a grace stroke waits for the next chord of its voice."""
        if self.drums is None:
            return
        ties = {tie.get("type") for tie in item.iterfind("tie")}
        if item.find("rest") is not None or "stop" in ties:
            return
        if item.find("cue") is not None:
            self.lost("cue notes")
            return
        spot = self.drums.find(item)
        if spot is None:
            return
        self._notations(item)
        head = Head(*spot, _level(item), _hidden(item), _is_buzz(item))
        voice = item.findtext("voice") or "1"
        joined = item.find("chord") is not None
        if item.find("grace") is not None:
            sets = waiting.setdefault(voice, [])
            if joined and sets:
                sets[-1].append(head)
            else:
                sets.append([head])
            return
        text = self._sticking(item, start)
        if joined and voice in chords and chords[voice].place == start:
            chords[voice].heads.append(head)
            chords[voice].text = chords[voice].text or text
            return
        chords[voice] = Chord(start, [head], waiting.pop(voice, []), text)
        made.chords.append(chords[voice])
        made.chords += self._measured_roll(item, start, head)

    def _measured_roll(self, item: Element, start: Fraction, head: Head) -> list[Chord]:
        """Return the further strokes of a note whose stem has slashes; down to sixteenths."""
        step = _slashed_value(item)
        if self.own or step is None or step < SHORTEST_SLASHED:
            return []
        end = start + self._duration(item)
        more = (start + at * step for at in range(1, ceil((end - start) / step)))
        plain = replace(head, level=Level.NORMAL)
        return [Chord(place, [replace(plain)], []) for place in more if place < end]

    def _sticking(self, item: Element, start: Fraction) -> str:
        """Return the sticking written at a note: a lyric, a fingering, or words above or below."""
        texts = [lyric.findtext("text") or "" for lyric in item.iterfind("lyric")]
        if not self.own:
            for tag in ("fingering", "pluck"):
                texts += [one.text or "" for one in item.iterfind(f"notations/technical/{tag}")]
            if self.words and self.words[0] == start:
                texts.append(self.words[1])
        found = (_HANDS_IN_WORDS.get(text.strip(), text.strip()) for text in texts)
        return next((text for text in found if sticking_limbs(text)[0]), "")

    def _notations(self, item: Element) -> None:
        """Count the signs beside a note that are not read."""
        for path, what in _LOST_NOTATIONS.items():
            if item.find(f"notations/{path}") is not None:
                self.lost(what)
        tremolo = item.find("notations/ornaments/tremolo")
        if tremolo is not None and tremolo.get("type") in ("start", "stop"):
            self.lost("tremolos between two notes")

    def _mark(self, item: Element, now: Fraction, made: Measure) -> None:
        """Take up directions and sounds."""
        tempo = tempo_of(item)
        if tempo:
            made.feel.tempos.append((now, *tempo))
        if not self.own:
            made.feel.take(item, now)
        for sound in [item] if item.tag == "sound" else item.findall("sound"):
            made.signs |= {sign for name, sign in SOUNDS.items() if sound.get(name)}
        if item.tag == "direction":
            self._direction(item, now, made)

    def _direction(self, item: Element, now: Fraction, made: Measure) -> None:
        rehearsal = item.findtext("direction-type/rehearsal")
        if rehearsal:
            made.section = (rehearsal, 1)
        hidden = (item.findtext("direction-type/other-direction") or "").split()
        if len(hidden) == 2 and hidden[0] == SECTION and WHOLE_NUMBER.fullmatch(hidden[1]):
            made.section = (_own_title(item, int(hidden[1])), int(hidden[1]))
        if self.own:
            return
        signs = (SEGNO, CODA)
        made.signs |= {one for one in signs if item.find(f"direction-type/{one}") is not None}
        for mark in item.iterfind("direction-type/dynamics/*"):
            if mark.tag not in DYNAMICS:
                self.lost(f'dynamic marks "{mark.tag[:20]}"')
        for words in item.iterfind("direction-type/words"):
            self._words((words.text or "").strip(), now, made)

    def _words(self, text: str, now: Fraction, made: Measure) -> None:
        sign = sign_in_words(text)
        if sign:
            made.signs.add(sign)
        elif text in _HANDS_IN_WORDS or sticking_limbs(text)[0]:
            self.words = (now, text)
        elif not made.feel.take_words(text, now) and _SLOWING.search(text[:80]):
            self.lost("gradual changes of tempo in words")

    def _barline(self, item: Element, made: Measure) -> None:
        repeat, ending = item.find("repeat"), item.find("ending")
        made.signs |= {sign for sign in (SEGNO, CODA) if item.find(sign) is not None}
        if ending is not None and ending.get("type") == "start":
            self.endings = frozenset(map(int, WHOLE_NUMBER.findall(ending.get("number") or "")))
            made.endings = self.endings
        elif self.endings:
            made.endings = self.endings
        if ending is not None and ending.get("type") in ("stop", "discontinue"):
            self.endings = frozenset()
        if repeat is not None and repeat.get("direction") == "forward":
            made.forward = True
        elif repeat is not None:
            times = repeat.get("times") or "2"
            made.times = max(int(times), 1) if WHOLE_NUMBER.fullmatch(times) else 2


def _own_title(item: Element, times: int) -> str:
    """Return the title of a section of our own: the words without its count of times."""
    words = [one.text or "" for one in item.iterfind("direction-type/words")]
    return "" if words == [times_words(times)] else next(iter(words), "")


def _level(item: Element) -> Level:
    head = item.find("notehead")
    if head is not None and head.get("parentheses") == "yes":
        return Level.GHOST
    found = item.iterfind("notations/articulations/*")
    return Level.ACCENT if any(one.tag in _ACCENTS for one in found) else Level.NORMAL


def _hidden(item: Element) -> dict[str, str]:
    words = (item.findtext("notations/other-notation") or "").split()
    return dict(zip(words[::2], words[1::2], strict=False))


def _is_buzz(item: Element) -> bool:
    """Return whether a note is a buzz: its tremolo counts no strokes, or more than sixteenths."""
    found = item.find("notations/ornaments/tremolo")
    if found is None or found.get("type") in ("start", "stop"):
        return False
    step = _slashed_value(item)
    return found.get("type") == "unmeasured" or (step is not None and step < SHORTEST_SLASHED)


SHORTEST_SLASHED = Fraction(1, 6)
"""Strokes at least this far apart, in quarter notes, are counted where a stem has slashes for them.

More slashes are a roll (common practice): 32nds and shorter are read as a buzz.
"""


def _slashed_value(item: Element) -> Fraction | None:
    """Return how far apart the strokes are that slashes through a stem mean; None without any."""
    found = item.find("notations/ornaments/tremolo")
    if found is None or found.get("type", "single") != "single":
        return None
    slashes = (found.text or "3").strip()
    if slashes not in ("1", "2", "3", "4", "5"):
        return None
    flags = _FLAGS.get((item.findtext("type") or "").strip(), 0)
    step = Fraction(1, 2 ** (int(slashes) + flags))
    normal, actual = (
        whole_of(item, f"time-modification/{kind}-notes", 1) for kind in ("normal", "actual")
    )
    return step * normal / actual if normal and actual else step


_FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4}
"""Flags of the shorter notes: slashes count on from them."""
