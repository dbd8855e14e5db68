"""Hands that nobody wrote: a drummer's default, marked as assumed in every file and figure."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from trainer.errors import BadInput
from trainer.kit.hits import Strike
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.reading import read_take
from trainer.pattern.formats import midi_read, musicxml_read
from trainer.pattern.formats.midi_write import to_midi
from trainer.pattern.formats.musicxml_write import to_musicxml
from trainer.pattern.formats.tab_file import pattern_from_tab, to_tab_file
from trainer.pattern.json_data import pattern_from_dict, pattern_to_dict
from trainer.pattern.language import notation
from trainer.pattern.language.rows import HANDS_ASSUMED, with_way
from trainer.pattern.model import Limb, Pattern
from trainer.practice.course import Course, Pass
from trainer.practice.matcher import judge
from trainer.show.reading_words import reading_lines
from trainer.toml_text import parse

GROOVE = """
[bars]
value = "16"
hihat = "x-x-x-x-x-x-----"
snare = "----X--g----xx-f"
tom1 = "--------------x-"
kick = "x-----x-x-x-----"
"""


def groove(more: str = "") -> Pattern:
    """The groove above, with keys added."""
    return notation.read(parse(GROOVE + more), "groove")


def hands(pattern: Pattern, voice: str) -> str:
    """The hands of a voice's main strokes, a letter each."""
    return "".join(
        str(one.limb)[0] for one in pattern.notes if one.voice == voice and not one.grace
    )


def test_cymbals_are_right_drums_of_a_groove_left_singles_alternate() -> None:
    """The fill at the end has no cymbal around it: right, left, right, left."""
    made = groove()

    assert hands(made, "hihat") == "RRRRRR"
    assert hands(made, "snare") == "LL" + "RL" + "L"
    assert hands(made, "tom1") == "R"
    assert HANDS_ASSUMED in made.assumed
    assert all(one.hand_assumed for one in made.notes if one.limb in (Limb.RH, Limb.LH))
    assert not any(one.hand_assumed for one in made.notes if one.voice == "kick")


@pytest.mark.parametrize(
    ("way", "hihat", "snare"),
    [("crossing", "RRRRRR", "LLRLL"), ("open-handed", "LLLLLL", "RRRLL")],
)
def test_who_chooses_has_written_the_hands(way: str, hihat: str, snare: str) -> None:
    """A key of the grid, or a change after a foreign file's name: nothing is assumed then."""
    for made in (groove(f'hands = "{way}"'), with_way(groove(), way)):
        assert (hands(made, "hihat"), hands(made, "snare")) == (hihat, snare)
        assert not any(one.hand_assumed for one in made.notes)
        assert HANDS_ASSUMED not in made.assumed


def test_an_unknown_way_is_refused() -> None:
    """With the ways there are."""
    with pytest.raises(BadInput, match="crossing, open-handed, alternating"):
        with_way(groove(), "sideways")


def test_alternating_is_right_and_left_in_turn() -> None:
    """As singles are, whatever the voice."""
    made = notation.read(parse('[bars]\nhands = "alternating"\nride = "xxxx"\nvalue = "4"'), "ride")

    assert hands(made, "ride") == "RLRL"


def test_files_and_sessions_carry_that_hands_were_assumed() -> None:
    """Tab, MIDI, MusicXML and JSON return the same notes, each with its mark."""
    made = groove()
    back = [
        midi_read.read(to_midi(made), name="groove"),
        musicxml_read.read(to_musicxml(made).encode(), name="groove"),
        pattern_from_tab(to_tab_file(made), "groove"),
        pattern_from_dict(json.loads(json.dumps(pattern_to_dict(made)))),
    ]

    assert [one.notes for one in back] == [made.notes] * 4
    assert "R" not in to_tab_file(made).split("BD")[1].splitlines()[1]


def judged_takes(pattern: Pattern) -> tuple[dict, list[str]]:
    """The reading of sixteen passes, the left hand late and soft, as numbers and as text."""
    length_s = float(pattern.length) * 60.0 / 100.0
    course = Course(pattern, tuple(Pass(n, 100.0, 1.0 + n * length_s) for n in range(16)))
    strikes = [
        Strike(
            one.time_s + 0.025 * (one.note.limb == Limb.LH),
            GENERAL_MIDI.note(one.note.voice) or 0,
            60 if one.note.limb == Limb.LH else 100,
        )
        for one in course.targets()
    ]
    reading = read_take(judge(course, sorted(strikes, key=lambda one: one.time_s), GENERAL_MIDI))
    return reading.to_dict(), reading_lines(reading.to_dict())


def test_nothing_is_said_about_hands_that_nobody_wrote() -> None:
    """No figure, no line, no advice names a hand; with hands chosen they do."""
    summary, lines = judged_takes(groove())
    chosen, said = judged_takes(with_way(groove(), "crossing"))
    words = ("right hand", "left hand", "RH", "LH", "limp")

    assert [line for line in lines if any(word in line for word in words)] == []
    assert not {"RH", "LH"} & summary["offset"]["by_limb"].keys()
    assert not {"RH", "LH"} & {one["limb"] for one in summary["advice"] or ()}
    assert summary["evenness"]["lope"]["value"] is summary["power"]["balance"]["value"] is None
    assert any("left hand" in line.lower() for line in said)
    assert chosen["offset"]["by_limb"]["LH"]["mean"]["value"] > 20


def test_the_lead_exchanges_assumed_hands_too() -> None:
    """They stay assumed."""
    made = notation.read(parse(GROOVE + '[hands]\nlead = "left"'), "groove")

    assert hands(made, "hihat") == "LLLLLL"
    assert all(one.hand_assumed for one in made.notes if one.voice == "hihat")


def test_an_old_session_of_a_foreign_file_says_nothing_about_hands() -> None:
    """Its notes carry no mark, but what was assumed says so."""
    old = replace(groove(), assumed=("sticking: hands strictly alternate",))
    saved = pattern_to_dict(old)
    for note in saved["notes"]:
        note.pop("hand_assumed", None)

    found = pattern_from_dict(saved)

    assert all(one.hand_assumed for one in found.notes if one.voice in ("hihat", "snare"))
