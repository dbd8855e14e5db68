"""The level of a pattern: computed from what makes it hard, and as the shipped files say it."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest

from trainer import toml_text
from trainer.actions.patterns import list_patterns
from trainer.file_system import shipped_folder, user_folder
from trainer.pattern.language import notation
from trainer.pattern.level import computed_level
from trainer.pattern.library import PatternFilter, load_pattern
from trainer.pattern.model import Bar, Meter, Pattern

SHIPPED = sorted(path.stem for path in shipped_folder("patterns").glob("*.toml"))


def grounds(source: str) -> dict[str, float]:
    """Return the points of a pattern file's grounds."""
    return dict(computed_level(notation.read(toml_text.parse(source), "test", source)).grounds)


def hands(line: str, tempo: int = 80) -> dict[str, float]:
    """Return the grounds of a line of the hands."""
    return grounds(f"tempo = {tempo}\nhands = {{ {line} }}")


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_levels_are_those_that_are_computed(name: str) -> None:
    """No file says another level than its notes."""
    pattern = load_pattern(str(shipped_folder("patterns") / f"{name}.toml"))

    assert pattern.level == computed_level(pattern).level


def test_every_level_is_among_the_shipped_patterns() -> None:
    """The library is not all of one level, and most of it is not at the ends."""
    levels = [load_pattern(name).level for name in SHIPPED]

    assert set(levels) == {1, 2, 3, 4, 5}
    assert levels.count(1) + levels.count(5) < len(levels) / 2


def test_an_empty_pattern_is_of_the_first_level() -> None:
    """Bars without a stroke demand nothing; one stroke hardly more."""
    bar = Bar(Fraction(0), Meter())
    empty = Pattern("e", "E", (bar,), ())

    assert computed_level(empty).level == 1
    assert not any(points for _, points in computed_level(empty).grounds)


@pytest.mark.parametrize(
    ("ground", "easier", "harder"),
    [
        ("rate", 'value = "8"', 'value = "32"'),
        ("moves", 'path = "snare x4, tom1 x4"', 'path = "snare x2, floor x2, crash x2, ride x2"'),
        ("crossing", 'path = "floor+snare"', 'path = "snare+floor"'),
        ("sticking", 'sticking = "R L R L"', 'sticking = "lR rL lR rL"'),
        ("note values", 'value = "8 8 16 16"', 'value = "8 16q 16 16s"'),
        ("off the beat", 'sticking = ">R L R L"', 'sticking = "R >L R L"'),
    ],
)
def test_what_is_harder_is_worth_more(ground: str, easier: str, harder: str) -> None:
    """One ground grows, and its name says which."""
    assert hands(harder)[ground] > hands(easier)[ground]


def test_feet_count_for_their_rate_and_for_what_they_do_against_the_hands() -> None:
    """Feet on the hands are easier than feet between them; none are nothing."""
    with_feet = [
        grounds(
            f'hands = {{ sticking = "R L", value = "8" }}\n[feet]\nvalue = "16"\nkick = "{row}"'
        )
        for row in ("x---", "-x--")
    ]

    assert grounds('hands = "R L"')["independence"] == 0
    assert with_feet[0]["independence"] < with_feet[1]["independence"]
    assert grounds('feet = "double-kick"')["feet"] > grounds('feet = "quarters"')["feet"]


def test_faster_is_never_easier() -> None:
    """Every shipped pattern at rising tempos: the level does not fall."""
    for name in SHIPPED[::10]:
        pattern = load_pattern(name)
        levels = [
            computed_level(replace(pattern, tempo=tempo)).level for tempo in (40, 80, 160, 320)
        ]
        assert all(one <= two for one, two in itertools.pairwise(levels)), name


def test_a_list_has_the_level_of_every_own_pattern() -> None:
    """Computed where none is written; a written one stays, a faulty file has none."""
    folder = user_folder("patterns")
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text('tempo = 200\nhands = "R L"\n')
    (folder / "said.toml").write_text('level = 5\nhands = "R L"\n')
    (folder / "faulty.toml").write_text('hands = "R X"\n')
    levels = {one.name: one.level for one in list_patterns(PatternFilter()) if one.own}
    expected = computed_level(load_pattern("mine")).level
    assert levels == {"mine": expected, "said": 5, "faulty": None}
    assert "mine" in {one.name for one in list_patterns(PatternFilter(level=expected))}
