"""Any sticking over any path over any feet at any value, against a slow and obvious reading."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import cycle, islice
from typing import TYPE_CHECKING

from hypothesis import given, settings
from hypothesis import strategies as st

from trainer import toml_text
from trainer.errors import BadInput
from trainer.pattern.language import notation
from trainer.pattern.language.rows import OSTINATOS
from trainer.pattern.model import FEET, NOTE_VALUES

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern

DRUMS = ("snare", "tom1", "tom2", "floor", "hihat", "snare/rim", "ride/bell")
STICKINGS = st.lists(st.sampled_from("RLRLB-K"), min_size=1, max_size=12).map(" ".join)
PATHS = st.lists(st.tuples(st.sampled_from(DRUMS), st.integers(1, 5)), min_size=1, max_size=6).map(
    lambda stops: ", ".join(f"{drum} x{times}" for drum, times in stops)
)
VALUES = st.sampled_from(["4", "8", "8t", "16", "16t", "16q", "16s", "32", "8.", "4t", "64"])
METERS = st.sampled_from(["4/4", "3/4", "5/4", "7/8", "6/8", "2/2", "5/16"])
FEET_NAMES = st.sampled_from(["none", *OSTINATOS])


def read(source: str) -> Pattern:
    """Return the pattern of a text, with the length a refusal names if it is refused."""
    try:
        return notation.read(toml_text.parse(source), "made", source)
    except BadInput as fault:
        lengths = re.findall(r"length = (\d+)", str(fault))
        length = lengths[0] if lengths else "3"
        return notation.read(toml_text.parse(f"length = {length}\n{source}"), "made", source)


def hands_of(sticking: str, path: str, value: str, length: Fraction) -> list[tuple[object, ...]]:
    """Return what the hands play, step by step: beat, drum and limb of each stroke."""
    parts = [part.split(" x") for part in path.split(", ")]
    drums = [drum for name, times in parts for drum in [name] * int(times)]
    step = NOTE_VALUES[value].length
    count = int(-(-length // step))
    found: list[tuple[object, ...]] = []
    at = 0
    for number, letter in enumerate(islice(cycle(sticking.split()), count)):
        if letter in "RLB":
            voice, _, zone = drums[at % len(drums)].partition("/")
            found += [
                (number * step, voice, zone, f"{hand}H") for hand in "RL" if letter in (hand, "B")
            ]
            at += 1
        if letter == "K":
            found.append((number * step, "kick", "", "RF"))
    return sorted(found)


@settings(max_examples=150, deadline=None)
@given(sticking=STICKINGS, path=PATHS, value=VALUES, meter=METERS, feet=FEET_NAMES)
def test_everything_combines(sticking: str, path: str, value: str, meter: str, feet: str) -> None:
    """Hands, path, value, meter and feet combine freely; the hands play what a slow reading says.

    What is refused for not filling the bar is played with the length the message names.
    """
    if not re.search("[RLBK]", sticking) or ("K" in sticking and feet != "none"):
        return
    source = (
        f'meter = "{meter}"\nfeet = "{feet}"\n[hands]\n'
        f'sticking = "{sticking}"\nvalue = "{value}"\npath = "{path}"\n'
    )
    made = read(source)
    hands = [
        (note.beat, note.voice, note.zone, str(note.limb))
        for note in made.notes
        if note.limb not in FEET or feet == "none"
    ]

    assert sorted(hands) == hands_of(sticking, path, value, made.length)
    assert all(note.beat < made.length for note in made.notes)


@given(order=st.permutations(["R L R R", "R L", "R L L R L L"]), times=st.integers(1, 3))
def test_sections_follow_one_another(order: list[str], times: int) -> None:
    """Sections come in the order of the file, each as often as it says, bar after bar."""
    source = "length = 3\n" + "".join(
        f'[[section]]\ntitle = "{sticking}"\ntimes = {times}\nhands = "{sticking}"\n'
        for sticking in order
    )
    made = notation.read(toml_text.parse(source), "made", source)
    letters = "".join(str(note.limb)[0] for note in made.notes)
    wanted = "".join(
        "".join(islice(cycle(sticking.replace(" ", "")), 48)) * times for sticking in order
    )

    assert letters == wanted
    assert [section.bar_count for section in made.sections] == [3 * times] * 3
    assert [section.times for section in made.sections] == [times] * 3
    assert len(made.bars) == 9 * times


LETTERS = st.lists(st.sampled_from(["R", "L", "lR", "rrL", "B", "K"]), min_size=1, max_size=8)
SWAP = str.maketrans("RLrl", "LRlr")


def led(spelled: str, lead: str) -> Pattern:
    """Return a sticking with a lead, over as many bars as it has steps."""
    length = len(spelled.split())
    text = f'length = {length}\nhands = {{ sticking = "{spelled}", lead = "{lead}" }}'
    return notation.read(toml_text.parse(text), "made", text)


@given(sticking=LETTERS)
def test_the_left_lead_exchanges_the_hands_and_nothing_else(sticking: list[str]) -> None:
    """The left lead has R for L and L for R."""
    spelled = " ".join(sticking)

    assert led(spelled, "left").notes == led(spelled.translate(SWAP), "right").notes


@given(sticking=LETTERS)
def test_both_leads_are_one_after_the_other(sticking: list[str]) -> None:
    """A figure is exchanged each time; what alternates already, after the whole section."""
    spelled, other = " ".join(sticking), " ".join(sticking).translate(SWAP)
    hands = spelled.replace("l", "").replace("r", "").split()
    turned = [hands[at:] + hands[:at] for at in range(len(hands))]
    made = led(spelled, "both")
    if len(hands) > 2 and other.replace("l", "").replace("r", "").split() not in turned:
        length = len(sticking)
        text = f'length = {length}\nhands = "{spelled} {other}"'
        assert made.notes == notation.read(toml_text.parse(text), "made", text).notes
        return
    right, left = led(spelled, "right"), led(spelled, "left")

    assert len(made.bars) == 2 * len(right.bars)
    assert made.notes[: len(right.notes)] == right.notes
    assert [(n.beat - right.length, n.voice, n.limb) for n in made.notes[len(right.notes) :]] == [
        (n.beat, n.voice, n.limb) for n in left.notes
    ]


@given(shift=st.integers(-20, 20))
def test_displacement_moves_the_figure_and_keeps_the_grid(shift: int) -> None:
    """After a shift by n steps, what stood on step i stands on step i + n, around the end."""
    source = 'length = 3\n[hands]\nsticking = ">R (L) R R L lR L L"\npath = "snare tom1 tom2"\n'
    plain, moved = (
        notation.read(toml_text.parse(text), "made", text)
        for text in (source, f"{source}shift = {shift}")
    )
    by = Fraction(shift, 4)
    turned = sorted(
        ((note.beat + by) % plain.length, note.voice, str(note.limb), note.level, note.grace)
        for note in plain.notes
    )

    assert turned == sorted(
        (note.beat, note.voice, str(note.limb), note.level, note.grace) for note in moved.notes
    )
