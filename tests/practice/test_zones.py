"""Zones: what came instead of what is written, and what a kit cannot be blamed for."""

from __future__ import annotations

from fractions import Fraction

import pytest

from trainer.kit.hits import Controllers, Hit, Pedal, Strike
from trainer.kit.model import GENERAL_MIDI, HitReader, Kit, Pad
from trainer.measure.clean import STRICTNESS_LEVELS, clean_verdict
from trainer.measure.reading import read_take
from trainer.pattern.library import load_pattern
from trainer.pattern.model import Note
from trainer.practice.course import Course, Pass
from trainer.practice.matcher import judge
from trainer.practice.outcomes import misplaced, wrong_zone
from trainer.show.reading_words import reading_lines


def struck(voice: str, zone: str, *zones: str) -> Hit:
    """A hit on a zone of a voice whose kit can send these zones."""
    return Hit(0, 0.0, 38, 90, voice, zone, zones=frozenset(zones))


@pytest.mark.parametrize(
    ("voice", "written", "came", "said", "counts"),
    [
        ("snare", "rim", "head", "head for rim", True),
        ("snare", "rim", "rim", "", False),
        ("snare", "cross-stick", "rim", "rim for cross-stick", True),
        ("snare", "", "rim", "rim for head", False),
        ("hihat", "open", "closed", "closed for open", True),
        ("hihat", "", "open", "open for closed", False),
        ("hihat", "open", "edge", "", False),
        ("ride", "bell", "bow", "bow for bell", True),
        ("ride", "", "edge", "", False),
        ("crash", "", "bow", "", False),
        ("ride", "", "bell", "bell for bow", False),
    ],
)
def test_the_zone_that_came_is_said(
    voice: str, written: str, came: str, said: str, counts: bool
) -> None:
    """Another zone than is written is named; only one that the pattern names is a fault."""
    note = Note(Fraction(0), voice, None, zone=written)
    assert wrong_zone(note, struck(voice, came)) == said
    assert misplaced(note, struck(voice, came)) is counts


def test_a_kit_is_not_asked_for_what_it_cannot_send() -> None:
    """A pad with one note for head and rim is never to blame."""
    note = Note(Fraction(0), "snare", None, zone="rim")
    assert wrong_zone(note, struck("snare", "head", "head")) == ""
    assert not misplaced(note, struck("snare", "head", "head"))
    assert misplaced(note, struck("snare", "head", "head", "rim"))


def test_the_reader_says_which_zones_a_kit_can_send() -> None:
    """They come from the kit's notes, stand-ins and a pedal that shows open or closed."""
    one = HitReader(GENERAL_MIDI, {"snare", "tom1"})
    assert one.read(Strike(0.0, 38, 90)).zones == {"head", "rim", "cross-stick"}
    assert one.read(Strike(1.0, 50, 90)).zones == {"head"}
    hat = {42: Pad("hihat", "closed")}
    assert HitReader(Kit(notes=hat), {"hihat"}).read(Strike(0.0, 42, 90)).zones == {"closed"}
    reported = Controllers(pedal=Pedal(4, 127, 0, zones=True))
    both = HitReader(Kit(notes=hat, controllers=reported), {"hihat"}).read(Strike(0.0, 42, 90))
    assert both.zones == {"closed", "half-open", "open"}


RIMS = load_pattern("rim-and-head")
LAID = Course(RIMS, (Pass(0, 100.0, 1.0),))


def all_on_the_head(kit: Kit = GENERAL_MIDI):
    """A take of head and rim in turn, every stroke in time and on the head."""
    return judge(LAID, [Strike(one.time_s, 38, 80) for one in LAID.targets()], kit)


def test_heads_for_rims_are_in_the_reading_the_text_and_the_verdict() -> None:
    """The outcomes stay; everything that speaks of touch names the zones."""
    take = all_on_the_head()
    written = sum(one.note.zone == "rim" for one in take.targets)
    assert set(take.target_outcome) == {"played"}

    share = read_take(take).touch.zones["snare head for rim"]
    assert (share.value, share.count) == (100.0, written)
    assert f"Zones: snare head for rim, {written} of {written}." in reading_lines(
        read_take(take).to_dict()
    )
    for level in STRICTNESS_LEVELS.values():
        found = clean_verdict(take, level)
        assert found.failed[0].name == "zone"
        assert "wrong zones" in found.reasons()[0]


def test_a_kit_with_one_note_for_both_is_clean_and_silent() -> None:
    """What the kit's map cannot send is in no figure, no text and no verdict."""
    notes = {note: pad for note, pad in GENERAL_MIDI.notes.items() if pad.zone != "rim"}
    take = all_on_the_head(Kit(notes=notes))

    assert read_take(take).touch.zones == {}
    assert "Zones" not in "".join(reading_lines(read_take(take).to_dict()))
    assert clean_verdict(take).clean
