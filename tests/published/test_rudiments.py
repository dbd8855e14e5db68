"""The 40 International Drum Rudiments of the Percussive Arts Society against the library.

Names and numbers: documentation of MIDI::Simple::Drummer::Rudiments (CPAN), all 40 in order.
Stickings: `D` drawn stroke by stroke there, `W` described there in words, `C` only the order of
flams, drags, taps and accents agrees with its code and the hands are from memory, `M` from memory
of the society's sheet. Mirrored halves, and the accents of C and M rows, are from memory.

Spelling here: capital = main stroke, small = grace stroke, ' = the stroke before it is accented.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from trainer.pattern import library
from trainer.pattern.model import FEET, Level

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern

RUDIMENTS = [
    (1, "Single stroke roll", "RLRLRLRL", "D"),
    (2, "Single stroke four", "RLRLRLRL", "D"),
    (3, "Single stroke seven", "RLRLRLR", "D"),
    (4, "Multiple bounce roll", "RLRL", "M"),
    (5, "Triple stroke roll", "RRRLLL", "D"),
    (6, "Double stroke open roll", "RRLLRRLL", "D"),
    (7, "Five stroke roll", "RRLLR'LLRRL'", "D"),
    (8, "Six stroke roll", "R'LLRRL'", "D"),
    (9, "Seven stroke roll", "RRLLRRL'", "D"),
    (10, "Nine stroke roll", "RRLLRRLLR'", "D"),
    (11, "Ten stroke roll", "RRLLRRLLR'L'", "D"),
    (12, "Eleven stroke roll", "RRLLRRLLRRL'", "D"),
    (13, "Thirteen stroke roll", "RRLLRRLLRRLLR'", "D"),
    (14, "Fifteen stroke roll", "RRLLRRLLRRLLRRL'", "D"),
    (15, "Seventeen stroke roll", "RRLLRRLLRRLLRRLLR'", "D"),
    (16, "Single paradiddle", "R'LRRL'RLL", "D"),
    (17, "Double paradiddle", "R'LRLRRL'RLRLL", "D"),
    (18, "Triple paradiddle", "R'LRLRLRRL'RLRLRLL", "D"),
    (19, "Single paradiddle-diddle", "R'LRRLL", "M"),
    (20, "Flam", "lRrL", "D"),
    (21, "Flam accent", "lR'LRrL'RL", "D"),
    (22, "Flam tap", "lR'RrL'L", "D"),
    (23, "Flamacue", "lRL'RLlR", "W"),
    (24, "Flam paradiddle", "lR'LRRrL'RLL", "W"),
    (25, "Single flammed mill", "lR'RLRrL'LRL", "W"),
    (26, "Flam paradiddle-diddle", "lR'LRRLLrL'RLLRR", "C"),
    (27, "Pataflafla", "lR'LRrL'", "C"),
    (28, "Swiss army triplet", "lR'RL", "C"),
    (29, "Inverted flam tap", "lR'LrL'R", "C"),
    (30, "Flam drag", "lR'LLRrL'RRL", "C"),
    (31, "Drag", "llRrrL", "C"),
    (32, "Single drag tap", "llRL'rrLR'", "C"),
    (33, "Double drag tap", "llRllRL'rrLrrLR'", "C"),
    (34, "Lesson 25", "llRLR'llRLR'", "M"),
    # The accent belongs to the drag of two; on which of its strokes the source leaves open.
    (35, "Single dragadiddle", "R'RLRRL'LRLL", "M"),
    (36, "Drag paradiddle no. 1", "R'llRLRRL'rrLRLL", "C"),
    (37, "Drag paradiddle no. 2", "R'llRllRLRRL'rrLrrLRLL", "M"),
    (38, "Single ratamacue", "llRLRL'rrLRLR'", "C"),
    (39, "Double ratamacue", "llRllRLRL'rrLrrLRLR'", "C"),
    (40, "Triple ratamacue", "llRllRllRLRL'rrLrrLrrLRLR'", "C"),
]
NO_REPEATED_LEAD = {2, 3, 8, 9, 10, 11, 12, 13, 14, 15, 19, 23, 28, 34, 37, 39, 40}
"""Rudiments the library writes with one lead, then mirrored."""


def rudiments() -> dict[int, str]:
    """Return the shipped pattern of each number."""
    found = {}
    for entry in library.catalogue():
        number = re.search(r"Number (\d+) of the 40 International Drum Rudiments", entry.about)
        if number:
            found[int(number[1])] = entry.name
    return found


def spelled(pattern: Pattern) -> str:
    """Return the hands of a pattern in the spelling of the table, in the order they strike."""
    letters = {"RH": "R", "LH": "L"}
    text = ""
    for note in pattern.notes:
        if note.limb not in FEET:
            letter = letters[str(note.limb)]
            text += letter.lower() if note.grace else letter
            text += "'" if note.level == Level.ACCENT else ""
    return text


def test_all_forty_are_there_once() -> None:
    """The library holds numbers 1 to 40 and no other."""
    assert sorted(rudiments()) == list(range(1, 41))


@pytest.mark.parametrize(("number", "name", "sticking", "source"), RUDIMENTS)
def test_name_and_sticking(number: int, name: str, sticking: str, source: str) -> None:
    """The n-th rudiment has its published name and begins with its published sticking."""
    made = library.load_pattern(rudiments()[number])

    assert made.title == name
    assert spelled(made).startswith(sticking)
    assert source in "DWCM"


@pytest.mark.parametrize("number", sorted(NO_REPEATED_LEAD))
def test_the_second_half_is_the_mirrored_first(number: int) -> None:
    """Where a rudiment is published with both leads, the second half exchanges the hands."""
    text = spelled(library.load_pattern(rudiments()[number]))
    half = len(text) // 2

    assert text[half:] == text[:half].translate(str.maketrans("RLrl", "LRlr"))


@pytest.mark.parametrize(
    ("number", "strokes"),
    [(7, 5), (8, 6), (9, 7), (10, 9), (11, 10), (12, 11), (13, 13), (14, 15), (15, 17)],
)
def test_an_n_stroke_roll_has_n_strokes(number: int, strokes: int) -> None:
    """A roll named by a number has so many strokes; 5, 9, 13, 17 end on the starting hand."""
    roll = next(text for n, _, text, _ in RUDIMENTS if n == number).replace("'", "")[:strokes]
    made = library.load_pattern(rudiments()[number])
    turns = made.strokes / strokes

    assert turns == int(turns)
    assert (roll[0] == roll[-1]) == (strokes in (5, 9, 13, 17))


@pytest.mark.parametrize(("number", "half"), [(16, 4), (17, 6), (18, 8)])
def test_a_paradiddle_half_ends_in_a_double_and_changes_hands(number: int, half: int) -> None:
    """The half of a paradiddle ends in a double, and the next begins on the other hand."""
    text = spelled(library.load_pattern(rudiments()[number])).replace("'", "")

    assert text[half - 1] == text[half - 2]
    assert text[half] != text[half - 1]
    assert text[half : 2 * half] == text[:half].translate(str.maketrans("RL", "LR"))


@pytest.mark.parametrize("number", range(20, 41))
def test_grace_strokes_come_from_the_other_hand(number: int) -> None:
    """Each grace stroke of flams and drags is on the hand opposite to its main stroke."""
    text = spelled(library.load_pattern(rudiments()[number])).replace("'", "")
    graced = re.findall(r"([lr]+)([RL])", text)

    assert all(grace[-1].upper() != main for grace, main in graced)
    assert graced or number == 35


@pytest.mark.parametrize("number", range(1, 41))
def test_each_is_playable_over_a_path_with_its_hands_unchanged(number: int) -> None:
    """A rudiment over two drums has the same hands, on those drums."""
    name = rudiments()[number]
    over = library.load_pattern(f'{name} path="tom1 x3, floor x2" length=4')
    plain = library.load_pattern(f"{name} length=4")

    assert spelled(over) == spelled(plain)
    assert {note.voice for note in over.notes} == {"tom1", "floor"}
