"""How strokes are engraved: their written values, ties, tuplets and rests."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings

from trainer.pattern import library
from trainer.pattern.formats.musicxml_write import Stream
from trainer.pattern.language import notation
from trainer.pattern.rhythm import is_foot

from .made import patterns

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern
    from trainer.pattern.staff import Glyph


def _spelled(pattern: Pattern) -> list[list[Glyph]]:
    """Return the hands' glyphs bar by bar, strokes lasting over the bar lines."""
    stream = Stream([note for note in pattern.notes if not is_foot(note)])
    return [stream.bar(bar, pattern.length) for bar in pattern.bars]


def _words(glyphs: list[Glyph]) -> str:
    """Return glyphs as note values: r for a rest, ~ for a tie, (3 ) around a tuplet."""
    words = []
    for one in glyphs:
        opens = f"({one.tuplet[0]} " if one.opens and one.tuplet else ""
        rest = "" if one.notes else "r"
        name = f"{rest}{one.base}{'.' * one.dots}{'~' * one.tied_on}"
        words.append(opens + name + ")" * one.closes)
    return " ".join(words)


def _hands(rhythm: str, meter: str = "4/4", length: int = 1) -> list[str]:
    """Return the bars of a rhythm of single strokes, as words."""
    hands = {"sticking": "R L", "rhythm": rhythm}
    table = {"hands": hands, "meter": meter, "length": length}
    return [_words(bar) for bar in _spelled(notation.read(table, "t"))]


@pytest.mark.parametrize(
    ("meter", "rhythm", "page"),
    [
        ("6/8", "8 8. 16 8 16 16 8", "8 8. 16 8 16 16 8"),
        ("4/4", "8 4 8 8 4 8", "8 4 8 8 4 8"),
        ("4/4", "4. 8 8. 16 4", "4. 8 8. 16 4"),
        ("4/4", "8 4 4 4 8", "8 4 4 4 8"),
        ("4/4", "4 2 4", "4 2 4"),
        ("4/4", "4 2.", "4 2."),
        ("4/4", "1", "1"),
        ("2/4", "16 8 16 4", "16 8 16 4"),
        ("7/8", "8 4 8 8. 16 8", "8 4 8 8. 16 8"),
        ("6/8", "2.", "2."),
    ],
)
def test_a_stroke_is_as_long_as_it_is_written(meter: str, rhythm: str, page: str) -> None:
    """Dotted, long and syncopated values stand on the page as the file writes them."""
    assert _hands(rhythm, meter=meter) == [page]


@pytest.mark.parametrize(
    ("meter", "rhythm", "page"),
    [
        ("4/4", "4 4. 4 8", "4 4~ 8 4 8"),
        ("4/4", "8 2 4.", "8 4.~ 8 4."),
        ("4/4", "8. 8. 8 2", "8. 16~ 8 8 2"),
        ("4/4", "16 4 8. 2", "16 8.~ 16 8. 2"),
        ("6/8", "4 4 4", "4 8~ 8 4"),
        ("6/8", "2 4", "4.~ 8 4"),
    ],
)
def test_a_tie_shows_the_beat_a_long_note_would_hide(meter: str, rhythm: str, page: str) -> None:
    """The middle of a bar of four, a beat off its halves and a compound group stay to be seen."""
    assert _hands(rhythm, meter=meter) == [page]


def test_a_stroke_lasts_over_the_bar_line() -> None:
    """What runs over the bar line is tied into the next bar; the last bar ends with the pattern."""
    assert _hands("4.", length=3) == ["4. 8~ 4 4~", "8 4. 4. 8~", "4 4~ 8 4."]


@pytest.mark.parametrize(
    ("rhythm", "page"),
    [
        ("16t x3 8", "(3 16 16 16) 8"),
        ("8 16t x3", "8 (3 16 16 16)"),
        ("16t x6", "(6 16 16 16 16 16 16)"),
        ("8t 16t 16t 8t", "(3 8 16 16 8)"),
        ("8t 4t", "(3 8 4)"),
        ("16t 8t 8t 16t", "(3 16 8 8 16)"),
        ("32t x12", "(6 32 32 32 32 32 32) (6 32 32 32 32 32 32)"),
        ("16q x5", "(5 16 16 16 16 16)"),
    ],
)
def test_a_tuplet_spans_no_more_than_it_must(rhythm: str, page: str) -> None:
    """Three sixteenth triplets and an eighth are a 3 and a plain eighth; six are a sextuplet."""
    assert _hands(rhythm, meter="1/4") == [page]


def test_a_triplet_is_tied_into_the_next_one() -> None:
    """A quarter of a triplet that runs over the beat is two tied eighths of triplets."""
    assert _hands("8t 8t 4t 8t 8t", meter="2/4") == ["(3 8 8 8~) (3 8 8 8)"]


def test_short_strokes_stand_for_their_beat() -> None:
    """A kick-like stroke alone on its beat is a quarter note, whatever its grid."""
    table = {"bars": {"snare": "x---|x-x-", "value": "16"}, "meter": "1/4", "length": 2}

    assert [_words(bar) for bar in _spelled(notation.read(table, "t"))] == ["4", "8 8"]


@pytest.mark.parametrize("name", ["single-ratamacue", "single-stroke-four", "triple-ratamacue"])
def test_rudiments_with_a_triplet_and_an_eighth(name: str) -> None:
    """Sixteenth triplets before an eighth carry a 3, never a 6 with a dotted note."""
    page = " ".join(_words(bar) for bar in _spelled(library.load_pattern(name)))

    assert "(3 16 16 16) 8" in page
    assert "(6" not in page
    assert "8." not in page


@given(patterns())
@settings(max_examples=100, deadline=None)
def test_every_bar_is_filled_exactly(pattern: Pattern) -> None:
    """Glyphs follow one another without gap to the bar line; each stroke stands on its beat."""
    for bar, glyphs in zip(pattern.bars, _spelled(pattern), strict=True):
        inside = [n for n in pattern.notes if bar.start <= n.beat < bar.end and not is_foot(n)]
        struck = [bar.start + one.beat for one in glyphs if one.notes and not one.tied_from]
        assert struck == sorted({note.beat for note in inside})
        if not glyphs:
            continue
        assert glyphs[0].beat == 0
        assert glyphs[-1].beat + glyphs[-1].length == bar.meter.length
        for one, two in pairwise(glyphs):
            assert one.beat + one.length == two.beat
            assert one.tied_on == two.tied_from


def test_a_buzz_is_as_long_as_it_is_held() -> None:
    """An eighth with a buzz and a rest after it is an eighth; without a buzz it fills its beat."""
    pages = {
        sticking: _words(_spelled(notation.read({"hands": hands}, "t"))[0])
        for sticking in ("zR -", "R -", "zR - - -")
        for hands in [{"sticking": sticking, "value": "8"}]
    }

    assert pages == {
        "zR -": "8 r8 8 r8 8 r8 8 r8",
        "R -": "4 4 4 4",
        "zR - - -": "8 r8 r4 8 r8 r4",
    }


def test_five_in_three_eighths_is_one_bracket() -> None:
    """Five in the time of three fill a dotted quarter, not a bracket for each eighth."""
    hands = {"sticking": "R L R L R", "value": "8(5/3)"}
    page = _spelled(notation.read({"meter": "6/8", "hands": hands, "length": 1}, "t"))[0]

    assert _words(page) == "(5 8 8 8 8 8) (5 8 8 8 8 8)"
    assert {one.tuplet for one in page} == {(5, 3)}
