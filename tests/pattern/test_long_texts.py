"""Long texts: eight times the text takes some eight times as long, whatever is in it."""

from __future__ import annotations

import tracemalloc
from contextlib import suppress
from time import process_time
from typing import TYPE_CHECKING, Any

import pytest

from trainer.errors import BadInput
from trainer.pattern.formats.tab import parse_tab
from trainer.pattern.formats.tab_file import pattern_from_tab
from trainer.pattern.language import changes, spelling
from trainer.pattern.language.old_spelling import present_spelling

if TYPE_CHECKING:
    from collections.abc import Callable

TIMES = 8
WORST = 24
"""What eight times the text may cost at most: a square would be 64 times, a cube 512 times."""


def values_of_tab(text: str) -> None:
    """Read a tab with values for a bar of eight strokes."""
    pattern_from_tab(f"SN |oooooooo|\n\nbar 1, values: snare {text}", "t")


TEXTS: dict[str, tuple[Callable[[str], Any], str, str]] = {
    "strokes": (spelling.sticking, "RL>R(L)lR ", ""),
    "brackets": (spelling.sticking, "(RL)", ""),
    "brackets that are never closed": (spelling.sticking, "(R L " * 6, "R L " * 500),
    "closing brackets": (spelling.sticking, "R)", ""),
    "groups": (spelling.sticking, "|:R:|", ""),
    "bar lines": (spelling.sticking, "|", "R"),
    "blanks behind groups": (spelling.sticking, " ", "|: R :|"),
    "no strokes": (spelling.sticking, "Q", ""),
    "grace letters": (spelling.sticking, "l", ""),
    "numbers": (spelling.sticking, "R x1 ", ""),
    "one long number": (spelling.sticking, "0", "R x"),
    "drums": (spelling.path, "snare/rim x2, ", ""),
    "one long drum": (spelling.path, "x4snare", ""),
    "one long drum with digits": (spelling.path, "4", "snare"),
    "commas": (spelling.path, ",", "snare"),
    "values": (spelling.values, "16x2 ", ""),
    "blanks in a repeat": (spelling.values, " ", "16 x"),
    "values of a tab": (values_of_tab, "8 ", ""),
    "repeated values of a tab": (values_of_tab, "8 x20000 ", ""),
    "old brackets": (present_spelling, "[R L]*2 ", ""),
    "old ghosts": (present_spelling, "(R ", "*"),
    "a sticking below a tab": (lambda text: parse_tab(f"SN |o|\n{text}?"), "RL ", ""),
    "blanks before changes": (changes.split, " ", "climb"),
}


def seconds(read: Callable[[str], Any], text: str) -> float:
    """Return the processor time of the quickest of some readings."""
    found = []
    for _ in range(5):
        start = process_time()
        with suppress(BadInput):
            read(text)
        found.append(process_time() - start)
    return min(found)


@pytest.mark.parametrize("name", TEXTS)
def test_a_reader_takes_time_in_proportion_to_its_text(name: str) -> None:
    """No text is read in the square or the cube of its length."""
    read, piece, head = TEXTS[name]
    text = head + piece * (8_000 // len(piece))
    long = head + piece * (TIMES * 8_000 // len(piece))

    assert seconds(read, long) < WORST * seconds(read, text)


LARGE = 64 * 2**20
"""Bytes that reading a long text of a tab may take at most."""


@pytest.mark.parametrize(
    "text",
    [
        "SN |oooooooo|\n\nbar 1, values: snare " + "8 x20000 " * 20_000,
        "SN |oooooooo|\n\nbar 1, values: snare " + "8 " * 90_000,
        "SN |oooooooo|\n    " + "R" * 200_000,
        "SN |oooooooo|\n\nbar 1, values: snare 8" + "; kick 8 x20000" * 12_000,
    ],
)
def test_a_long_line_of_a_tab_takes_little_memory(text: str) -> None:
    """Repeats of values and a sticking without an end are cut or refused, not written out."""
    tracemalloc.start()
    try:
        with suppress(BadInput):
            pattern_from_tab(text, "t")
        assert tracemalloc.get_traced_memory()[1] < LARGE
    finally:
        tracemalloc.stop()
