"""Which drum a note of a MusicXML part means."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from trainer.kit.voices import VOICES, full_zone
from trainer.pattern.musicxml_note import PART
from trainer.pattern.staff import voice_at

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    from trainer.kit.note_map import Kit

_OWN = re.compile(rf"{PART}-([a-z0-9]+)-([a-z-]+)", re.ASCII)
_NUMBER = re.compile(r"\d{1,3}", re.ASCII)

Drum = tuple[str, str]
"""A voice and a zone, empty for the ordinary one."""


class Drums:
    """The instruments of one part; `unknown` counts the notes that are no drum of the kit."""

    def __init__(self, score_part: Element | None, kit: Kit) -> None:
        self.unknown = 0
        self._by_id: dict[str, Drum] = {}
        for midi in score_part.iterfind("midi-instrument") if score_part is not None else ():
            number = (midi.findtext("midi-unpitched") or "").strip()
            # The standard counts these notes from 1.
            pad = kit.pad(int(number) - 1) if _NUMBER.fullmatch(number) else None
            if pad:
                self._by_id[midi.get("id", "")] = _plain(pad.voice, pad.zone)

    def find(self, note: Element) -> Drum | None:
        """Return the drum of a note: by our own name, its MIDI note, or its place on the staff."""
        unpitched = note.find("unpitched")
        if unpitched is None:
            self.unknown += 1
            return None
        instrument = note.find("instrument")
        name = instrument.get("id", "") if instrument is not None else ""
        drum = _own(name) or self._by_id.get(name) or _on_staff(note, unpitched)
        self.unknown += drum is None
        return drum


def _plain(voice: str, zone: str) -> Drum:
    return voice, "" if zone == full_zone(voice, "") else zone


def _own(name: str) -> Drum | None:
    found = _OWN.fullmatch(name)
    if not found or found[1] not in VOICES or found[2] not in VOICES[found[1]].zones:
        return None
    return _plain(found[1], found[2])


def _on_staff(note: Element, unpitched: Element) -> Drum | None:
    step = unpitched.findtext("display-step") or "C"
    octave = (unpitched.findtext("display-octave") or "5").strip()
    head = (note.findtext("notehead") or "normal").strip()
    if not _NUMBER.fullmatch(octave):
        return None
    found = voice_at(step.strip(), int(octave), head)
    return _plain(*found) if found else None
