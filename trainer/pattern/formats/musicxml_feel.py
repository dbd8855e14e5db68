"""Swing, tempo changes and dynamics as MusicXML directions: written, and read from other programs.

They are written where they begin and end, as players read them: words and a sound element for
swing, a metronome mark for a tempo with `accel.` or `rit.` where it changes gradually, marks and
wedges for dynamics. The exact feel of a file of our own is in a field that is not printed.

Read are the same elements. Words such as `Swing` mean 2:1. A wedge moves to the mark at its end,
else by one mark. Places are quarter notes; BPM counts the pattern's own unit.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING, TypeVar
from xml.etree import ElementTree as ET

from trainer.pattern.formats.musicxml_notes import BEAT_UNITS, add_element
from trainer.pattern.model import (
    DYNAMICS,
    MAX_TEMPO,
    MIN_TEMPO,
    MOST_SWING,
    STRAIGHT,
    Dynamic,
    Swing,
    TempoChange,
)

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from trainer.pattern.model import Pattern

Mark = tuple[Fraction, ET.Element]
"""A place in the pattern and the direction written there."""

_SWUNG = {"8": "eighth", "16": "16th"}
_SHUFFLE = Fraction(2, 3)
_SWING_WORDS = re.compile(r"\b(swing|swung|shuffle)\b", re.IGNORECASE)
_STRAIGHT_WORDS = re.compile(r"\bstraight\b", re.IGNORECASE)


def written_feel(pattern: Pattern) -> list[Mark]:
    """Return the directions of a pattern's feel, by their places."""
    marks = [*_swing_marks(pattern), *_tempo_marks(pattern), *_dynamic_marks(pattern)]
    return sorted(marks, key=lambda mark: mark[0])


def feel_inside(pattern: Pattern, start: Fraction, end: Fraction) -> bool:
    """Return whether swing, tempo or dynamics change inside a stretch, its start left out."""
    rules: list[Swing | TempoChange | Dynamic] = [
        *pattern.swing,
        *pattern.tempo_changes,
        *pattern.dynamics,
    ]
    return any(
        start < place < end for rule in rules for place in (rule.start, rule.end) if place
    ) or any(rule.start == start and _moves(rule) for rule in rules)


def _moves(rule: Swing | TempoChange | Dynamic) -> bool:
    return not isinstance(rule, Swing) and rule.end is not None


def _direction(place: str = "above") -> ET.Element:
    return ET.Element("direction", placement=place)


def _words(direction: ET.Element, text: str, **style: str) -> None:
    kind = add_element(direction, "direction-type")
    add_element(kind, "words", text, **style)


def _swing_marks(pattern: Pattern) -> Iterator[Mark]:
    starts = {swing.start for swing in pattern.swing}
    for swing in pattern.swing:
        direction = _direction()
        _words(direction, swing_words(swing), font_weight="bold")
        if swing.value in _SWUNG:
            sound = add_element(add_element(direction, "sound"), "swing")
            first, both = swing.share.as_integer_ratio()
            add_element(sound, "first", first)
            add_element(sound, "second", both - first)
            add_element(sound, "swing-type", _SWUNG[swing.value])
        yield swing.start, direction
        if swing.end < pattern.length and swing.end not in starts:
            straight = _direction()
            _words(straight, "straight", font_weight="bold")
            add_element(add_element(add_element(straight, "sound"), "swing"), "straight")
            yield swing.end, straight


def swing_words(swing: Swing) -> str:
    """Return what is written above a swing: `Swing`, `Swing 16ths 60%`."""
    value = "" if swing.value == "8" else f" {swing.value}ths"
    share = "" if swing.share == _SHUFFLE else f" {float(swing.share):.0%}"
    return f"Swing{value}{share}"


def tempo_direction(bpm: float, unit: Fraction) -> ET.Element:
    """Return a metronome mark of BPM that count a unit (quarter notes)."""
    direction = _direction()
    kind = add_element(direction, "direction-type")
    if unit in BEAT_UNITS:
        name, dots = BEAT_UNITS[unit]
        metronome = add_element(kind, "metronome")
        add_element(metronome, "beat-unit", name)
        for _ in range(dots):
            add_element(metronome, "beat-unit-dot")
        add_element(metronome, "per-minute", f"{bpm:g}")
    else:
        add_element(kind, "words", f"{unit} quarter = {bpm:g}")
    add_element(direction, "sound", tempo=f"{bpm * float(unit):g}")
    return direction


def _tempo_marks(pattern: Pattern) -> Iterator[Mark]:
    now = pattern.tempo
    for change in pattern.tempo_changes:
        if change.tempo != now:
            yield change.start, tempo_direction(change.tempo, pattern.tempo_unit)
        now = change.tempo
        if change.end is not None:
            direction = _direction()
            _words(direction, "accel." if change.to > change.tempo else "rit.", font_style="italic")
            yield change.start, direction
            if change.end < pattern.length:
                yield change.end, tempo_direction(change.to, pattern.tempo_unit)
            now = change.to


def _dynamic_marks(pattern: Pattern) -> Iterator[Mark]:
    marks = {one.start: one.mark for one in pattern.dynamics}
    beats = [note.beat for note in pattern.notes]
    now = ""
    for one in pattern.dynamics:
        if one.mark != now:
            yield one.start, _dynamic(one.mark)
        now = one.mark
        if one.end is not None:
            end, after = one.end, marks.get(one.end, "")
            if end >= pattern.length or after not in ("", one.to):
                # The mark that is reached has no other place than the last stroke before the end.
                last = beats[bisect_left(beats, end) - 1] if beats else end
                end, after = (last, "") if last > one.start else (end, after)
            louder = DYNAMICS.index(one.to) > DYNAMICS.index(one.mark)
            for place, kind in (
                (one.start, "crescendo" if louder else "diminuendo"),
                (end, "stop"),
            ):
                wedge = _direction("below")
                add_element(add_element(wedge, "direction-type"), "wedge", type=kind)
                yield place, wedge
            if end < pattern.length and not after:
                yield end, _dynamic(one.to)
            now = "" if after else one.to


def _dynamic(mark: str) -> ET.Element:
    direction = _direction("below")
    add_element(add_element(add_element(direction, "direction-type"), "dynamics"), mark)
    return direction


@dataclass(slots=True)
class FoundFeel:
    """What is above and below the notes of a score, each with its place.

    A swing is its value and share, straight where the share is 1/2; a tempo is BPM and the note it
    counts; a wedge is its type.
    """

    swings: list[tuple[Fraction, str, Fraction]] = field(default_factory=list)
    tempos: list[tuple[Fraction, float, Fraction]] = field(default_factory=list)
    dynamics: list[tuple[Fraction, str]] = field(default_factory=list)
    wedges: list[tuple[Fraction, str]] = field(default_factory=list)

    def add(self, other: FoundFeel, start: Fraction) -> None:
        """Add what was found in a measure that starts at a place."""
        self.swings += [(start + at, value, share) for at, value, share in other.swings]
        self.tempos += [(start + at, bpm, unit) for at, bpm, unit in other.tempos]
        self.dynamics += [(start + at, mark) for at, mark in other.dynamics]
        self.wedges += [(start + at, kind) for at, kind in other.wedges]

    def add_missing(self, other: FoundFeel, length: Fraction) -> None:
        """Add another part's tempos and swing where this one's measure of a length has none."""
        self.tempos = _completed(self.tempos, other.tempos, length)
        self.swings = _completed(self.swings, other.swings, length)

    def take(self, item: ET.Element, place: Fraction) -> None:
        """Take up swing and dynamics of a direction or sound."""
        sounds = [item] if item.tag == "sound" else item.findall("sound")
        for swing in (one.find("swing") for one in sounds):
            if swing is not None:
                value = "16" if swing.findtext("swing-type") == "16th" else "8"
                self.swings.append((place, value, _share(swing)))
        for mark in item.iterfind("direction-type/dynamics/*"):
            if mark.tag in DYNAMICS:
                self.dynamics.append((place, mark.tag))
        for wedge in item.iterfind("direction-type/wedge"):
            self.wedges.append((place, wedge.get("type", "")))

    def take_words(self, text: str, place: Fraction) -> bool:
        """Take up words for swing; return whether they were that."""
        known = any(place == at for at, *_ in self.swings)
        if _SWING_WORDS.search(text[:80]):
            if not known:
                self.swings.append((place, "16" if "16" in text[:80] else "8", _SHUFFLE))
            return True
        if _STRAIGHT_WORDS.search(text[:80]):
            if not known:
                self.swings.append((place, "8", STRAIGHT))
            return True
        return False


Row = TypeVar("Row", bound="tuple[Fraction, object, Fraction]")


def _completed(mine: list[Row], theirs: list[Row], length: Fraction) -> list[Row]:
    known = {row[0] for row in mine}
    added = (row for row in theirs if row[0] not in known and row[0] <= length)
    return sorted([*mine, *added], key=lambda row: row[0])


def _share(swing: ET.Element) -> Fraction:
    """Return the share of the first of two swung notes; straight where it cannot be played."""
    texts = [(swing.findtext(tag) or "").strip() for tag in ("first", "second")]
    if not all(re.fullmatch(r"\d{1,4}", text, re.ASCII) and int(text) for text in texts):
        return STRAIGHT
    first, second = map(int, texts)
    return min(max(Fraction(first, first + second), STRAIGHT), MOST_SWING)


def swings_of(found: FoundFeel, end: Fraction) -> tuple[Swing, ...]:
    """Return the stretches of swing, up to the end of the pattern."""
    rows = sorted(found.swings, key=lambda row: row[0])
    ends = [*(row[0] for row in rows[1:]), end]
    return tuple(
        Swing(place, after, value, share)
        for (place, value, share), after in zip(rows, ends, strict=False)
        if share > STRAIGHT and place < after
    )


def tempo_changes_of(
    found: FoundFeel, end: Fraction, tempo: float, unit: Fraction
) -> tuple[TempoChange, ...]:
    """Return the changes of tempo after the start."""
    changes: list[TempoChange] = []
    for place, bpm, counted in found.tempos:
        now = min(max(round(bpm * float(counted / unit), 3), MIN_TEMPO), MAX_TEMPO)
        if 0 < place < end and now != tempo:
            if changes and changes[-1].start == place:
                changes.pop()
            changes.append(TempoChange(place, now))
            tempo = now
    return tuple(changes)


def dynamics_of(found: FoundFeel, end: Fraction) -> tuple[Dynamic, ...]:
    """Return the marks of loudness, with the wedges that move them."""
    marks = dict(found.dynamics)
    wedges = sorted(found.wedges, key=lambda row: row[0])
    moved = {}
    for (start, kind), (stop, stopped) in pairwise(wedges):
        if kind in ("crescendo", "diminuendo") and stopped == "stop" and start < stop <= end:
            before = [mark for place, mark in sorted(marks.items()) if place <= start]
            at = DYNAMICS.index(before[-1]) if before else DYNAMICS.index("mf")
            step = min(max(at + (1 if kind == "crescendo" else -1), 0), len(DYNAMICS) - 1)
            marks.setdefault(start, DYNAMICS[at])
            to = marks.setdefault(stop, DYNAMICS[step]) if stop < end else DYNAMICS[step]
            moved[start] = (stop, to)
    found_marks: list[Dynamic] = []
    for place, mark in sorted(marks.items()):
        if place >= end:
            continue
        stop_at, to = moved.get(place, (None, ""))
        last = found_marks[-1] if found_marks else None
        held = (last.to or last.mark) if last else ""
        if mark != held or stop_at is not None:
            found_marks.append(Dynamic(place, mark, stop_at, to))
    return _without_overlaps(found_marks)


def _without_overlaps(marks: Sequence[Dynamic]) -> tuple[Dynamic, ...]:
    """Return marks of which none begins inside another's wedge."""
    kept: list[Dynamic] = []
    for one in marks:
        if not kept or one.start >= (kept[-1].end or kept[-1].start):
            kept.append(one)
    return tuple(kept)
