"""Phrases and parts: patterns one after the other, and bars and sections taken out of one."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import pytest

from trainer import file_system
from trainer.errors import BadInput
from trainer.pattern.json_data import pattern_from_dict, pattern_to_dict
from trainer.pattern.library import catalogue, load_pattern
from trainer.pattern.model import Dynamic, Pattern, TempoChange
from trainer.pattern.phrase import PhrasePart, excerpt, read_phrase
from trainer.practice.course import Pass, pass_targets

if TYPE_CHECKING:
    from pathlib import Path

FILES = {
    "groove": 'tempo = 80\n[bars]\nvalue = "8"\nhihat = "xxxxxxxx"\nkick = "x---x---"\n',
    "fill": 'tempo = 70\nlength = 2\nhands = { sticking = "R L", path = "tom1 x8, floor x8" }\n',
    "song": 'phrase = "groove x3, fill bars=1"\n',
    "long": 'phrase = "|: song, groove :| x2"\n',
    "rush": 'tempo = "60 to 120"\nlength = 2\nhands = { sticking = "R L", value = "8" }\n',
    "swell": 'dynamics = "pp < ff"\nlength = 4\nhands = { sticking = "R L", value = "4" }\n',
    "around": 'phrase = "around x2"\n',
    "one": 'phrase = "other"\n',
    "other": '[[section]]\npattern = "one"\n',
}


@pytest.fixture(autouse=True)
def _own_patterns() -> None:
    folder = file_system.user_folder("patterns")
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in FILES.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")


def seconds(pattern: Pattern) -> list[float]:
    """Return when the strokes of one pass are due at the pattern's own tempo."""
    return [one.time_s for one in pass_targets(pattern, Pass(0, pattern.tempo, 0.0), 0)]


def test_a_phrase_plays_patterns_one_after_the_other() -> None:
    """Three bars of the groove and the first of the fill, at the tempo of the slower one."""
    song, groove, fill = map(load_pattern, ("song", "groove", "fill"))
    first = [note for note in fill.notes if note.beat < 4]

    assert song.tempo == 70
    assert [(one.title, one.bar_count, one.times) for one in song.sections] == [
        ("groove", 3, 3),
        ("fill, bar 1", 1, 1),
    ]
    expected = [4 * turn + note.beat for turn in range(3) for note in groove.notes]
    assert [note.beat for note in song.notes] == expected + [12 + note.beat for note in first]


def test_a_group_of_a_phrase_is_repeated_and_phrases_go_into_phrases() -> None:
    """Twice the song's four bars and one of the groove."""
    long = load_pattern("long")

    assert len(long.bars) == 10
    assert [one.bar_count for one in long.sections] == [4, 1, 4, 1]


def test_a_section_takes_a_pattern_with_its_own_tempo_and_dynamics(tmp_path: Path) -> None:
    """The rest of the pattern is untouched, and comes back from JSON as it is."""
    file = tmp_path / "mine.toml"
    file.write_text(
        'tempo = 60\n[[section]]\npattern = "groove feet=none"\ndynamics = "p"\ntimes = 2\n'
        '[[section]]\npattern = "fill"\ntempo = 90\ntitle = "fill"\n',
        encoding="utf-8",
    )
    made = load_pattern(str(file))

    assert (made.tempo, made.tempo_changes) == (60, (TempoChange(Fraction(8), 90.0),))
    assert made.dynamics == (Dynamic(Fraction(0), "p"),)
    assert made.sections[1].title == "fill"
    assert pattern_from_dict(pattern_to_dict(made)) == made


def test_a_pattern_that_changes_its_tempo_does_so_at_the_tempo_of_the_phrase(
    tmp_path: Path,
) -> None:
    """60 to 120 over two bars, twice, at 30: each time from 30 to 60, then 30 again."""
    file = tmp_path / "mine.toml"
    file.write_text(
        '[[section]]\npattern = "rush"\ntempo = 30\ntimes = 2\n'
        '[[section]]\npattern = "groove"\ntempo = 30\n',
        encoding="utf-8",
    )

    assert load_pattern(str(file)).tempo_changes == (
        TempoChange(Fraction(0), 30.0, Fraction(8), 60.0),
        TempoChange(Fraction(8), 30.0, Fraction(16), 60.0),
        TempoChange(Fraction(16), 30.0),
    )


@pytest.mark.parametrize("name", [entry.name for entry in catalogue() if not entry.own][::6])
def test_bars_of_a_pattern_are_those_bars(name: str) -> None:
    """All notes of bar 1 to the last, bar by bar, are those of the whole."""
    whole = load_pattern(name)
    found = []
    for number, bar in enumerate(whole.bars, 1):
        part = load_pattern(f"{name} bars={number}")
        assert (len(part.bars), part.meter) == (1, bar.meter)
        found += [(note.beat + bar.start, note.voice, note.grace) for note in part.notes]

    assert found == [(note.beat, note.voice, note.grace) for note in whole.notes]


def test_the_name_of_a_part_opens_the_same_part_again() -> None:
    """Also with changes before it."""
    part = load_pattern("song feet=none bars=3-4")

    assert part.name == "song feet=none bars=3-4"
    assert load_pattern(part.name) == part
    assert part.title.endswith("bars 3 to 4")


def test_sections_are_taken_by_number_and_by_title_and_bars_count_in_them() -> None:
    """The second section is the fill; bar 2 of the first one is a bar of the groove."""
    fill = load_pattern('song section="fill, bar 1"')

    assert load_pattern("song section=2").notes == fill.notes
    assert load_pattern("song section=1 bars=2").notes == load_pattern("groove").notes


def test_bars_keep_the_tempo_they_have_in_the_whole() -> None:
    """The second bar of 60 to 120 goes from 80 to 120, stroke by stroke as in the whole."""
    whole, part = load_pattern("rush"), load_pattern("rush bars=2")
    cut = seconds(whole)[8:]

    assert part.tempo == pytest.approx(80)
    assert seconds(part) == pytest.approx([time_s - cut[0] for time_s in cut])


def test_bars_of_a_crescendo_begin_and_end_at_the_nearest_marks() -> None:
    """pp to ff over four bars: the second is p to mf, two thirds of the way up each."""
    second = load_pattern("swell bars=2")

    assert second.dynamics == (Dynamic(Fraction(0), "p", Fraction(4), "mf"),)
    assert load_pattern("swell bars=3-4").dynamics[0].to == "ff"


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        ("around", r"around\.toml, line 1, phrase, around\.toml: the pattern takes itself in"),
        ("one", "the pattern takes itself in"),
        ("song bars=9", "song.toml, bars: there is no bar 9; the last one is bar 4"),
        ("song bars=3-2", 'bars: "3-2" names no bars'),
        ("song bars=0", 'bars: "0" names no bars'),
        ("song bars=1-", 'bars: "1-" names no bars'),
        ("song section=3", 'section: there is no section "3"; it has 2'),
        ("groove section=1", 'section: there is no section "1"; it has none'),
        ("song path=snare bars=1", "phrase.*hands"),
        ("song barz=1", 'there is no change "barz"; did you mean "bars"'),
    ],
)
def test_what_cannot_be_taken_is_refused(name: str, fault: str) -> None:
    """The place is the file and its key."""
    with pytest.raises(BadInput, match=fault):
        load_pattern(name)


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("a,, b", "a part of the phrase is empty"),
        ("", "a part of the phrase is empty"),
        ("|: a, b", "never closed"),
        ("a, b :|", "closes no"),
        ("|: a, |: b :| :|", "inside another"),
        ("a x0", '"x0" is no repeat'),
        ("a x99999", "is no repeat"),
        ("|: a, b :| x400", "800 parts, more than 500"),
        ('a path="b', "half a pair of quotes"),
    ],
)
def test_a_phrase_that_is_none_is_refused(text: str, fault: str) -> None:
    """Nothing is loaded for it."""
    with pytest.raises(BadInput, match=fault):
        read_phrase(text)


def test_commas_inside_quotes_belong_to_a_change() -> None:
    """A path may have commas of its own."""
    parts = read_phrase('a path="snare x2, tom1" x3, b')

    assert parts == (PhrasePart('a path="snare x2, tom1"', 3), PhrasePart("b"))


def test_a_phrase_that_explodes_is_refused_before_it_is_laid_out() -> None:
    """Ten thousand times ten thousand bars, by sections of sections."""
    for name, inner in (("b", "groove"), ("c", "b")):
        (file_system.user_folder("patterns") / f"{name}.toml").write_text(
            f'[[section]]\npattern = "{inner}"\ntimes = 10000\n', encoding="utf-8"
        )

    with pytest.raises(BadInput, match=r"c\.toml, line 3, section 1, times: .* 100000000 bars"):
        load_pattern("c")


def test_the_whole_of_a_pattern_is_an_excerpt_too() -> None:
    """Taking all bars changes nothing but the title and the level."""
    whole = load_pattern("song")
    taken = excerpt(whole, bars="1-4")

    assert (taken.notes, taken.bars, taken.sections) == (whole.notes, whole.bars, whole.sections)
