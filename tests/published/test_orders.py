"""Orders of drums against `itertools.permutations` and the check values of the trade."""

from __future__ import annotations

import itertools
import math

import pytest

from trainer import toml_text
from trainer.errors import BadInput
from trainer.pattern import library
from trainer.pattern.language import hands, notation

DRUMS = ["snare", "tom1", "tom2", "floor", "hihat", "ride"]


def order_of_drums(voices: list[str], each: int) -> list[tuple[str, ...]]:
    """Return groups of voices, one stroke a drum, `each` strokes taken as one."""
    firsts = voices[::each]
    return [tuple(firsts[at : at + 3]) for at in range(0, len(firsts), 3)]


@pytest.mark.parametrize("size", [1, 2, 3, 4, 5, 6])
def test_all_orders_are_those_of_itertools(size: int) -> None:
    """Every order comes once, in the order `itertools.permutations` gives them."""
    drums = DRUMS[:size]

    assert hands.chosen_orders(drums, None) == list(itertools.permutations(drums))
    assert hands.order_count(drums) == math.factorial(size)


@pytest.mark.parametrize("parts", ["aab", "aabb", "abcab", "aaaaaaaaaaab"])
def test_equal_parts_exchanged_are_one_order(parts: str) -> None:
    """With equal parts the orders are the different permutations, each once."""
    found = hands.chosen_orders(list(parts), None)

    assert len(found) == len(set(found)) == hands.order_count(list(parts))
    if len(parts) < 8:
        assert set(found) == set(itertools.permutations(parts))


@pytest.mark.parametrize("seed", range(5))
def test_a_draw_repeats_with_its_seed_and_never_doubles(seed: int) -> None:
    """A seeded choice is the same every time, without an order twice, and all of them if asked."""
    drawn = hands.chosen_orders(DRUMS[:4], 9, seed)

    assert drawn == hands.chosen_orders(DRUMS[:4], 9, seed)
    assert len(set(drawn)) == 9
    assert set(hands.chosen_orders(DRUMS[:3], 6, seed)) == set(itertools.permutations(DRUMS[:3]))


def test_another_seed_draws_other_orders() -> None:
    """Five seeds do not all draw the same (24 orders, 6 drawn)."""
    assert len({tuple(hands.chosen_orders(DRUMS[:4], 6, seed)) for seed in range(5)}) > 1


def test_a_drum_that_comes_twice_halves_the_orders() -> None:
    """Four parts, two of them alike, have 4! / 2! = 12 orders, as itertools permutes them.

    3 + 5 + 3 + 5 sixteenths fill a bar of 4/4: 12 bars, 192 strokes.
    """
    made = library.load_pattern("fives-and-threes")
    parts = (("floor", 3), ("snare", 5), ("tom2", 3), ("snare", 5))
    wanted = [
        tuple(drum for drum, count in order for _ in range(count))
        for order in itertools.permutations(parts)
    ]

    bars = [tuple(note.voice for note in made.notes[bar * 16 :][:16]) for bar in range(12)]
    assert (len(made.bars), made.strokes) == (12, 192)
    assert len(set(bars)) == 12
    assert set(bars) == set(wanted)
    assert [section.bar_count for section in made.sections] == [1] * 12


def test_five_drums_have_120_orders() -> None:
    """5! = 120; 3 + 2 + 3 + 2 + 2 sixteenths fill a bar of 3/4: 120 bars, 1440 strokes."""
    made = library.load_pattern("five-drums-every-order")
    bars = {tuple(note.voice for note in made.notes[bar * 12 :][:12]) for bar in range(120)}

    assert (len(made.bars), made.strokes, len(bars)) == (120, 1440, 120)


def test_each_order_is_played_as_often_as_asked() -> None:
    """Ten orders of five drums, each twice in a bar of its own: ten pairs of equal bars."""
    made = library.load_pattern("five-drums-drawn")
    bars = [tuple(note.voice for note in made.notes[bar * 16 :][:16]) for bar in range(20)]

    assert bars[::2] == bars[1::2]
    assert len(set(bars)) == 10
    assert [section.times for section in made.sections] == [2] * 10


def test_every_order_of_ten_drums_is_refused_with_the_count() -> None:
    """10! = 3628800 orders are refused before any is written out, and the message says how many."""
    source = '[hands]\norders = "all"\npath = "' + " ".join(
        ["snare", "tom0", "tom1", "tom2", "tom3", "floor", "floor2", "hihat", "ride", "crash"]
    )
    with pytest.raises(BadInput, match="3628800 orders"):
        notation.read(toml_text.parse(source + '"'), "ten", source)
