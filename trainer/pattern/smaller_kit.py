"""A pattern on a kit with fewer drums: what is missing is played on the nearest drum there is.

Nearest is by sound first (a tom for a tom, a cymbal for a cymbal), then by reach; drums that few
kits have come last, since a kit file that names none of them may lack them all. The order of each
row is common practice on four- and five-piece kits and our own choice. Where a stroke of the other
hand is written on that drum at the same moment, the next one of the row is taken for the whole
pattern, so that two hands do not meet on one drum where two drums were written.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.errors import BadInput
from trainer.kit.voices import CHOKE, CHOKED, VOICES

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from trainer.pattern.model import Note, Pattern

NEAREST: Mapping[str, tuple[str, ...]] = {
    "crash": ("crash2", "ride", "hihat", "splash", "china"),
    "crash2": ("crash", "ride", "hihat", "china", "splash"),
    "china": ("crash2", "crash", "ride"),
    "splash": ("crash", "crash2", "ride"),
    "ride": ("hihat", "crash2", "crash", "ride2"),
    "ride2": ("ride", "hihat", "crash2", "crash"),
    "hihat": ("ride", "crash", "crash2", "ride2"),
    "cowbell": ("ride", "hihat", "tom1"),
    "tambourine": ("hihat", "ride", "cowbell"),
    "tom0": ("tom1", "tom2", "floor", "snare"),
    "tom1": ("tom2", "floor", "snare", "tom0"),
    "tom2": ("tom1", "floor", "snare", "tom3"),
    "tom3": ("floor", "tom2", "tom1", "snare"),
    "floor": ("tom2", "tom1", "snare", "floor2", "tom3"),
    "floor2": ("floor", "tom2", "tom1", "snare", "tom3"),
    "kick2": ("kick",),
}
"""The drums that are played in place of a missing one, the nearest first."""

FOUR_PIECES = frozenset(["snare", "kick", "pedal", "hihat", "ride", "crash", "tom1", "floor"])
"""The voices of a four-piece kit: snare, one tom, floor tom and kick, with three cymbals."""


def on_four_pieces(pattern: Pattern) -> dict[str, str]:
    """Return what a pattern plays otherwise on a four-piece kit: each missing voice, and which."""
    return on_smaller_kit(pattern, VOICES.keys() - FOUR_PIECES)[1]


def on_smaller_kit(
    pattern: Pattern, without: Collection[str], choked: Collection[str] = CHOKED
) -> tuple[Pattern, dict[str, str]]:
    """Return the pattern without some voices, and which voice is played in place of which.

    Chokes of voices that are not `choked` are left out, and "choke" is returned for them. The same
    pattern where it uses none of them. Raises BadInput where nothing is near enough.
    """
    kept = tuple(note for note in pattern.notes if not note.choke or note.voice in choked)
    if len(kept) < len(pattern.notes):
        found, lacking = on_smaller_kit(replace(pattern, notes=kept), without)
        return found, lacking | {CHOKE: ""}
    used = {note.voice for note in pattern.notes}
    missing = sorted(used & set(without), key=list(VOICES).index)
    if not missing:
        return pattern, {}
    together = _together(pattern)
    instead: dict[str, str] = {}
    for voice in missing:
        there = [one for one in NEAREST.get(voice, ()) if one not in without]
        if not there:
            raise BadInput(
                f"{pattern.name} needs the {VOICES[voice].title}, which your kit lacks",
                fix="choose another pattern, or take it off the kit file's “without”",
            )
        taken = {instead.get(one, one) for one in together[voice]}
        instead[voice] = next((one for one in there if one not in taken), there[0])
    notes = tuple(_moved(note, instead) for note in pattern.notes)
    return replace(pattern, notes=notes), instead


def _together(pattern: Pattern) -> dict[str, set[str]]:
    """Return, for each voice, those that are struck at the same moment anywhere."""
    at: dict[object, set[str]] = defaultdict(set)
    for note in pattern.notes:
        at[note.beat].add(note.voice)
    found: dict[str, set[str]] = defaultdict(set)
    for voices in at.values():
        for voice in voices:
            found[voice] |= voices - {voice}
    return found


def _moved(note: Note, instead: Mapping[str, str]) -> Note:
    """Return a note on the voice it is played on; a zone that this one lacks becomes the usual."""
    voice = instead.get(note.voice)
    if voice is None:
        return note
    return replace(note, voice=voice, zone=note.zone if note.zone in VOICES[voice].zones else "")
