"""Which drum a note of a MusicXML part means.

Our own files name the drum. In other files it is the MIDI note of the instrument, else what the
instrument is called, else the place on the staff. MusicXML counts MIDI notes from 1 (element
midi-unpitched of the 4.0 reference); some programs count from 0, which shows where the staff agrees
with that and not with the other. Parts written with pitches under a percussion clef are read from
the staff as well.
"""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES, full_zone
from trainer.pattern.formats.musicxml_notes import PART
from trainer.pattern.staff import voice_at

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    from trainer.kit.model import Kit

Drum = tuple[str, str]
"""A voice and a zone, empty for the ordinary one."""

_OWN_NAME = re.compile(rf"{PART}-([a-z0-9]+)-([a-z-]+)", re.ASCII)
_NUMBER = re.compile(r"\d{1,3}", re.ASCII)

_CALLED: tuple[tuple[str, Drum], ...] = (
    ("side stick", ("snare", "cross-stick")),
    ("cross stick", ("snare", "cross-stick")),
    ("cross-stick", ("snare", "cross-stick")),
    ("rim", ("snare", "rim")),
    ("snare", ("snare", "")),
    ("bass drum", ("kick", "")),
    ("kick", ("kick", "")),
    ("pedal", ("pedal", "")),
    ("foot", ("pedal", "")),
    ("open hi", ("hihat", "open")),
    ("hi-hat open", ("hihat", "open")),
    ("hi-hat", ("hihat", "")),
    ("hi hat", ("hihat", "")),
    ("hihat", ("hihat", "")),
    ("ride bell", ("ride", "bell")),
    ("ride", ("ride", "")),
    ("china", ("china", "")),
    ("chinese", ("china", "")),
    ("splash", ("splash", "")),
    ("crash", ("crash", "")),
    ("cowbell", ("cowbell", "")),
    ("tambourine", ("tambourine", "")),
    ("floor tom", ("floor", "")),
    ("high tom", ("tom1", "")),
    ("mid tom", ("tom2", "")),
    ("low tom", ("tom3", "")),
)
"""English names of instruments, particular ones first (common practice of notation programs)."""


class PartDrums:
    """The drums of one part; `unknown` counts the notes that are no drum of the kit.

    `assumed` says in words what was taken otherwise than it is written.
    """

    def __init__(self, score_part: Element | None, part: Element, kit: Kit) -> None:
        self.unknown = 0
        self.assumed: list[str] = []
        self.pitched = has_percussion_clef(part)
        head = score_part if score_part is not None else part
        numbers = _midi_numbers(head)
        named = _named_instruments(head)
        places = _places(part, pitched=self.pitched)
        if _counts_from_zero(numbers, places, kit):
            numbers = {name: number + 1 for name, number in numbers.items()}
            self.assumed.append("drums: MIDI notes counted from 0, as the staff has them")
        self._by_id = named | _drums(numbers, kit)

    def find(self, note: Element) -> Drum | None:
        """Return the drum of a note, None where it is no drum of the kit."""
        name = _instrument(note)
        drum = None
        if note.find("unpitched") is not None or (self.pitched and note.find("pitch") is not None):
            drum = _own_drum(name) or self._by_id.get(name) or _on_staff(note)
        self.unknown += drum is None
        return drum


def has_percussion_clef(part: Element) -> bool:
    """Return whether a part is written under a percussion clef."""
    return any(
        (sign.text or "").strip() == "percussion"
        for sign in part.iterfind("measure/attributes/clef/sign")
    )


def drum_notes(part: Element) -> int:
    """Return how many notes of a part may be strokes."""
    kinds = ["unpitched"]
    if has_percussion_clef(part):
        kinds.append("pitch")
    return sum(1 for kind in kinds for _ in part.iterfind(f"measure/note/{kind}"))


def _midi_numbers(head: Element) -> dict[str, int]:
    """Return the MIDI notes of a part's instruments by their identifiers, counted from 1."""
    texts = {
        midi.get("id", ""): (midi.findtext("midi-unpitched") or "").strip()
        for midi in head.iterfind("midi-instrument")
    }
    return {name: int(text) for name, text in texts.items() if _NUMBER.fullmatch(text)}


def _named_instruments(head: Element) -> dict[str, Drum]:
    """Return the drums of a part's instruments by what these are called in English."""
    found = {}
    for one in head.iterfind("score-instrument"):
        title = (one.findtext("instrument-name") or "").lower()
        drum = next((drum for words, drum in _CALLED if words in title), None)
        if drum:
            found[one.get("id", "")] = drum
    return found


def _drums(numbers: dict[str, int], kit: Kit) -> dict[str, Drum]:
    pads = {name: kit.pad(number - 1) for name, number in numbers.items()}
    return {name: _drum(pad.voice, pad.zone) for name, pad in pads.items() if pad}


def _places(part: Element, *, pitched: bool) -> Counter[tuple[str, Drum]]:
    """Count which instrument is written at which drum's place on the staff."""
    found: Counter[tuple[str, Drum]] = Counter()
    for note in part.iterfind("measure/note"):
        name = _instrument(note)
        if name and (note.find("unpitched") is not None or pitched):
            drum = _on_staff(note)
            if drum:
                found[name, drum] += 1
    return found


def _counts_from_zero(numbers: dict[str, int], places: Counter[tuple[str, Drum]], kit: Kit) -> bool:
    """Return whether the staff contradicts MIDI notes counted from 1 and agrees with from 0.

    The drum counts twice, its zone once. Either bass drum may be at the place of the kick.
    """
    agreed = []
    for shift in (0, 1):
        drums = _drums({name: number + shift for name, number in numbers.items()}, kit)
        agreed.append(
            sum(
                count * (2 + (drums[name][1] == place[1]))
                for (name, place), count in places.items()
                if name in drums and _alike(drums[name][0], place[0])
            )
        )
    from_one, from_zero = agreed
    return from_zero > from_one and 2 * from_zero > 3 * places.total()


def _alike(one: str, two: str) -> bool:
    return one == two or {one, two} == {"kick", "kick2"}


def _instrument(note: Element) -> str:
    instrument = note.find("instrument")
    return instrument.get("id", "") if instrument is not None else ""


def _drum(voice: str, zone: str) -> Drum:
    return voice, "" if zone == full_zone(voice, "") else zone


def _own_drum(name: str) -> Drum | None:
    found = _OWN_NAME.fullmatch(name)
    if not found or found[1] not in VOICES or found[2] not in VOICES[found[1]].zones:
        return None
    return _drum(found[1], found[2])


def _on_staff(note: Element) -> Drum | None:
    """Return the drum at a note's place on the staff, as in treble clef."""
    unpitched, pitch = note.find("unpitched"), note.find("pitch")
    step, octave = "C", "5"
    if unpitched is not None:
        step = (unpitched.findtext("display-step") or step).strip()
        octave = (unpitched.findtext("display-octave") or octave).strip()
    elif pitch is not None:
        step = (pitch.findtext("step") or step).strip()
        octave = (pitch.findtext("octave") or octave).strip()
    head = (note.findtext("notehead") or "normal").strip()
    if not _NUMBER.fullmatch(octave):
        return None
    found = voice_at(step, int(octave), head)
    return _drum(*found) if found else None
