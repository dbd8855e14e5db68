"""What is written above a MusicXML staff and at its head: tempos, meters, signs of form."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.pattern.formats.assumptions import short_meter
from trainer.pattern.formats.musicxml_notes import BEAT_UNITS
from trainer.pattern.model import Meter

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

_UNITS = {1, 2, 4, 8, 16, 32, 64}
_UNIT_OF = {name_dots: unit for unit, name_dots in BEAT_UNITS.items()}
WHOLE_NUMBER = re.compile(r"\d{1,9}", re.ASCII)

DA_CAPO, DAL_SEGNO, TO_CODA, FINE = "da capo", "dal segno", "to coda", "fine"
SEGNO, CODA = "segno", "coda"

SOUNDS = {
    "dacapo": DA_CAPO,
    "dalsegno": DAL_SEGNO,
    "tocoda": TO_CODA,
    "fine": FINE,
    "segno": SEGNO,
    "coda": CODA,
}
"""Attributes of a sound element, and the sign each is."""

_WORDS = (
    (re.compile(r"\bd\. ?c\b|\bda capo\b|\bdc al\b", re.IGNORECASE), DA_CAPO),
    (re.compile(r"\bd\. ?s\b|\bdal segno\b|\bds al\b", re.IGNORECASE), DAL_SEGNO),
    (re.compile(r"\bto coda\b", re.IGNORECASE), TO_CODA),
    (re.compile(r"\A\W*fine\W*\Z", re.IGNORECASE), FINE),
    (re.compile(r"\A\W*coda\W*\Z", re.IGNORECASE), CODA),
    (re.compile(r"\A\W*segno\W*\Z", re.IGNORECASE), SEGNO),
)


def sign_in_words(words: str) -> str | None:
    """Return the jump or sign that words of a score are, such as `D.S. al Coda`; None for none."""
    return next((sign for shape, sign in _WORDS if shape.search(words[:80])), None)


def tempo_of(item: Element) -> tuple[float, Fraction] | None:
    """Return the tempo of a direction or sound: BPM, and the note it counts."""
    metronome = item.find("direction-type/metronome")
    if metronome is not None:
        dots = len(metronome.findall("beat-unit-dot"))
        key = ((metronome.findtext("beat-unit") or "").strip(), dots)
        bpm = _decimal(metronome.findtext("per-minute"))
        if bpm and key in _UNIT_OF:
            return bpm, _UNIT_OF[key]
    for sound in [item] if item.tag == "sound" else item.findall("sound"):
        bpm = _decimal(sound.get("tempo"))
        if bpm:
            return bpm, Fraction(1)
    return None


def meter_of(time: Element) -> Meter:
    """Return the meter of a time signature; several numbers of beats in it are its groups."""
    counts = [one.text or "" for one in time.findall("beats")]
    kinds = [(one.text or "").strip() for one in time.findall("beat-type")]
    rows = [[part.strip() for part in text.split("+")] for text in counts]
    if len(rows) != len(kinds) or not all(
        WHOLE_NUMBER.fullmatch(part) for row in rows for part in row
    ):
        raise BadInput("the meter cannot be read", fix="correct it")
    units = [int(kind) if WHOLE_NUMBER.fullmatch(kind) else 0 for kind in kinds]
    if not all(unit in _UNITS for unit in units):
        raise BadInput("the meter cannot be read", fix="correct it")
    unit = max(units)
    groups = [int(part) * unit // one for row, one in zip(rows, units, strict=True) for part in row]
    count = sum(groups)
    if not 1 <= count <= 64:
        raise BadInput(f"a meter of {count}/{unit} cannot be played", fix="correct it")
    return Meter(count, unit, tuple(groups) if len(groups) > 1 and 0 not in groups else ())


def fitted_meter(meter: Meter, length: Fraction, *, implicit: bool) -> Meter:
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


def whole_of(item: Element, tag: str, default: int) -> int:
    """Return a child's whole number, a default where there is none; raises BadInput."""
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
