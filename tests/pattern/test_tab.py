"""The written grid: rows, signs and steps, against grids written by hand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from trainer import toml_text
from trainer.pattern import library
from trainer.pattern.formats import tab
from trainer.pattern.language import notation
from trainer.pattern.language.rows import OSTINATOS

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern


def pattern(source: str) -> Pattern:
    """Return the pattern of a TOML text."""
    return notation.read(toml_text.parse(source), "test", source)


def test_a_groove_as_a_drummer_writes_it() -> None:
    """Cymbals above, feet below, one sign a step, the sticking under the hands."""
    made = pattern(
        '[bars]\nvalue = "8"\nsticking = "RBBRRRBR"\nhihat = "xxXxxxxo"\n'
        'snare = "--O---f-"\n"tom1/rim" = "-x------"\nkick = "x---xx--"'
    )

    assert tab.to_tab(made) == [
        "bar 1, 4/4",
        "        1·2·3·4·",
        "HH     |xxXxxxxo|",
        "T1/rim |-o------|",
        "SN     |--O---f-|",
        "BD     |o---oo--|",
        "        RBBRRRBR",
    ]


@pytest.mark.parametrize("name", sorted(OSTINATOS))
def test_an_ostinato_is_written_as_it_stands_in_its_table(name: str) -> None:
    """The cells of the feet are the grid of the ostinato, spread over the written steps."""
    made = pattern(f'feet = "{name}"')
    written = "".join(tab.to_tab(made)).count("o") + "".join(tab.to_tab(made)).count("x")

    assert written == made.strokes


@pytest.mark.parametrize("entry", library.catalogue(), ids=lambda entry: entry.name)
def test_every_stroke_of_the_library_stands_in_its_tab(entry: library.PatternEntry) -> None:
    """Each main stroke is one sign: both hands on one drum share theirs, under a B."""
    made = library.load_pattern(entry.name)
    rows = [line for line in tab.to_tab(made) if "|" in line]
    signs = sum(sign not in "-|" for line in rows for sign in line[line.index("|") :])
    places = {(note.beat, note.voice, note.zone) for note in made.notes if not note.grace}

    assert signs == len(places)
    assert max(map(len, rows)) <= 100


def test_steps_are_as_few_as_hold_every_stroke() -> None:
    """Eighths take two steps a beat, sixteenths four, triplets three, both together twelve."""
    counts = []
    for hands, feet in (("8", "8"), ("16", "8"), ("8t", "4"), ("16", "8t")):
        under = f'feet = {{ kick = "x", value = "{feet}" }}'
        made = pattern(f'hands = {{ value = "{hands}" }}\n{under}')
        counts.append(next(tab.bar_grids(made)).steps)

    assert counts == [8, 16, 12, 48]


def test_ghosts_accents_flams_and_drags_have_their_signs() -> None:
    """Ghost g, accent O, flam f, drag d, accented flam F on a drum; X on a cymbal."""
    made = pattern(
        '[hands]\nvalue = "8"\nsticking = "(R) >L lR rrL l>R R >L R"\n'
        'path = "snare x6, ride, crash"'
    )
    rows = {line[:2]: line for line in tab.to_tab(made) if "|" in line}

    assert rows["SN"].endswith("|gOfdFo--|")
    assert rows["RD"].endswith("|------X-|")
    assert rows["CC"].endswith("|-------x|")
