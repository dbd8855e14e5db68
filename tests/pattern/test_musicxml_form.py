"""Repeats, endings and jumps of MusicXML as other programs write them: what is played when."""

from __future__ import annotations

from fractions import Fraction

import pytest
from scores import FOUR, above, attributes, places, read, stroke, words

REPEATED = (
    '<attributes><measure-style><measure-repeat type="{}">{}</measure-repeat></measure-style>'
    "</attributes>"
)
REST = "<note><rest/><duration>16</duration><voice>1</voice></note>"


def test_signs_that_repeat_measures() -> None:
    """A measure with a repeat sign and no notes plays the one (or the two) before it."""
    kicks = stroke("kick", 8) * 2
    one = read(FOUR, REPEATED.format("start", 1) + REST, REPEATED.format("stop", "") + kicks)
    two = read(FOUR, kicks, REPEATED.format("start", 2) + REST, REST)

    assert places(one) == [(Fraction(beat), "snare") for beat in range(8)] + [
        (Fraction(8), "kick"),
        (Fraction(10), "kick"),
    ]
    assert [voice for _, voice in places(two)] == (["snare"] * 4 + ["kick"] * 2) * 2


def test_a_repeat_sign_with_its_notes_written_out_is_played_once() -> None:
    """The reference has the notes written beside the sign."""
    pattern = read(FOUR, REPEATED.format("start", 1) + stroke() * 4)

    assert len(pattern.notes) == 8


def bar(drum: str) -> str:
    """Return a measure of one long stroke."""
    return stroke(drum, 16)


JUMPS = {
    "D.C. al Fine": (
        [
            attributes() + bar("snare"),
            bar("kick") + words("Fine"),
            bar("hat") + words("D.C. al Fine"),
        ],
        "snare kick hihat snare kick",
    ),
    "D.S. al Coda": (
        [
            attributes() + bar("snare"),
            above("<segno/>") + bar("kick"),
            bar("tom") + words("To Coda"),
            bar("hat") + words("D.S. al Coda"),
            above("<coda/>") + bar("snare"),
        ],
        "snare kick tom1 hihat kick tom1 snare",
    ),
    "by sounds": (
        [
            attributes() + bar("snare"),
            '<sound segno="1"/>' + bar("kick") + '<sound tocoda="1"/>',
            bar("hat") + '<sound dalsegno="1"/>',
            '<sound coda="1"/>' + bar("tom"),
        ],
        "snare kick hihat kick tom1",
    ),
}


@pytest.mark.parametrize("name", JUMPS)
def test_jumps_are_followed(name: str) -> None:
    """Jumps in words or by sounds are played as a player reads them."""
    measures, played = JUMPS[name]
    pattern = read(*measures)

    assert [voice for _, voice in places(pattern)] == played.split()
    assert not any("form" in line for line in pattern.assumed)


def test_a_jump_to_nowhere_is_reported() -> None:
    """A dal segno without a segno is played on, and said."""
    pattern = read(FOUR, stroke() * 4 + words("D.S."))

    assert len(pattern.notes) == 8
    assert any('"dal segno" in measure 2 has no sign' in line for line in pattern.assumed)


def test_the_last_ending_is_played_after_a_jump() -> None:
    """Repeats are taken once after a da capo, with their last ending."""
    first = '<barline location="left"><ending number="1" type="start"/></barline>'
    back = (
        '<barline location="right"><ending number="1" type="stop"/><repeat direction="backward"/>'
        "</barline>"
    )
    second = '<barline location="left"><ending number="2" type="start"/></barline>'
    stop = '<barline location="right"><ending number="2" type="stop"/></barline>'
    pattern = read(
        attributes() + bar("snare"),
        first + bar("kick") + back,
        second + bar("tom") + words("D.C.") + stop,
    )

    assert [voice for _, voice in places(pattern)] == [
        "snare", "kick", "snare", "tom1", "snare", "tom1",
    ]  # fmt: skip


def test_a_second_jump_is_reported() -> None:
    """Only the first jump is followed; another one is not passed over without a word."""
    found = read(FOUR, words("D.C.") + bar("hat"), words("D.C. al Fine") + bar("kick"))

    assert len(found.bars) == 5
    assert [line for line in found.assumed if "measure 3 is not followed" in line]
