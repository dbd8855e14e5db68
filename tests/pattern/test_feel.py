"""Swing, tempo and dynamics as a file writes them: what they become, and what is refused."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from trainer import toml_text
from trainer.errors import BadInput
from trainer.pattern.description import description_lines
from trainer.pattern.language import notation
from trainer.pattern.model import Dynamic, Meter, Pattern, Swing, TempoChange
from trainer.practice.course import Pass, pass_targets

HANDS = 'hands = { sticking = "R L", value = "8" }\n'
SECTION = "\n[[section]]\n"


def pattern(source: str) -> Pattern:
    """Return the pattern of a TOML text."""
    return notation.read(toml_text.parse(source), "test", source)


def gaps_s(made: Pattern) -> list[float]:
    """Return the seconds from each stroke to the next at the pattern's own tempo."""
    times = [one.time_s for one in pass_targets(made, Pass(0, made.tempo, 0.0), 0)]
    return [two - one for one, two in pairwise(times)]


@pytest.mark.parametrize(
    ("text", "value", "share"),
    [
        ('"8 2:1"', "8", Fraction(2, 3)),
        ('"8"', "8", Fraction(2, 3)),
        ("8", "8", Fraction(2, 3)),
        ('"shuffle"', "8", Fraction(2, 3)),
        ('"16 60%"', "16", Fraction(3, 5)),
        ('"16 66.5%"', "16", Fraction(133, 200)),
        ('"8 3:1"', "8", Fraction(3, 4)),
    ],
)
def test_swing_is_a_value_and_a_ratio(text: str, value: str, share: Fraction) -> None:
    """Each spelling is the swing of the whole section."""
    made = pattern(f"swing = {text}\n{HANDS}")

    assert made.swing == (Swing(Fraction(0), Fraction(4), value, share),)


@pytest.mark.parametrize("text", ["none", "8 1:1", "8 50%"])
def test_even_swing_is_none(text: str) -> None:
    """A ratio of one to one is straight, and a section may leave the swing of the top out."""
    made = pattern(f'swing = "8 2:1"\n{HANDS}{SECTION}{SECTION}swing = "{text}"\n')

    assert [(one.start, one.end) for one in made.swing] == [(0, 4)]


def test_a_shuffle_is_played_long_short() -> None:
    """At 60 BPM eighths of 2:1 are two thirds and one third of a second apart."""
    made = pattern(f'swing = "shuffle"\ntempo = 60\n{HANDS}')

    assert gaps_s(made) == pytest.approx(([2 / 3, 1 / 3] * 4)[:-1])


def test_a_tempo_holds_until_another_is_written() -> None:
    """80, then 100, still 100 in the third section, then 60; the file begins at 80."""
    made = pattern(
        f"tempo = 80\n{HANDS}{SECTION}{SECTION}tempo = 100\n{SECTION}{SECTION}tempo = 60\n"
    )

    assert made.tempo == 80
    assert made.tempo_changes == (TempoChange(Fraction(4), 100.0), TempoChange(Fraction(12), 60.0))


def test_without_a_tempo_at_the_top_the_first_section_begins() -> None:
    """The pattern's own tempo is that of its first section."""
    made = pattern(f"{HANDS}{SECTION}tempo = 90\n{SECTION}tempo = 45\n")

    assert (made.tempo, made.tempo_changes) == (90, (TempoChange(Fraction(4), 45.0),))


def test_a_gradual_change_takes_the_section_with_its_repeats() -> None:
    """80 to 120 over two times one bar, then a ritardando from there over the first bar of two."""
    made = pattern(
        f'{HANDS}{SECTION}tempo = "80 to 120"\ntimes = 2\n'
        f'{SECTION}tempo = "to 60 over 1 bar"\ntimes = 2\n'
    )

    assert made.tempo_changes == (
        TempoChange(Fraction(0), 80.0, Fraction(8), 120.0),
        TempoChange(Fraction(8), 120.0, Fraction(12), 60.0),
    )


def test_a_metric_modulation_keeps_the_old_value_as_the_new() -> None:
    """The old 8t is the new 8: strokes stay a third of a second apart, and the tempo is 90."""
    made = pattern(
        'tempo = 60\n[[section]]\nhands = { value = "8t" }\n'
        '[[section]]\ntempo = "8t = 8"\nhands = { value = "8" }\n'
    )

    assert made.tempo_changes == (TempoChange(Fraction(4), 90.0),)
    assert gaps_s(made) == pytest.approx([1 / 3] * 19)


def test_parts_of_dynamics_share_a_section_and_begin_again_with_it() -> None:
    """Two bars of p with a crescendo to f at the end of each time; then mf holds once."""
    made = pattern(
        f'{HANDS}{SECTION}dynamics = "p p < f"\ntimes = 2\n'
        f'{SECTION}dynamics = "mf"\n{SECTION}dynamics = "mf"\n'
    )

    assert made.dynamics == (
        Dynamic(Fraction(0), "p"),
        Dynamic(Fraction(2), "p", Fraction(4), "f"),
        Dynamic(Fraction(4), "p"),
        Dynamic(Fraction(6), "p", Fraction(8), "f"),
        Dynamic(Fraction(8), "mf"),
    )


def test_groups_of_beats_are_written_behind_a_meter() -> None:
    """In one text, in a list, and beside a meter without groups."""
    one = pattern(f'meter = "7/8 3+2+2"\n{HANDS}')
    two = pattern(f'meter = ["5/8 2+3", "2/4", "7/8 2+2+3"]\nlength = 3\n{HANDS}')
    same = pattern(f'meter = "5/8 2+3 2/4 7/8 2+2+3"\nlength = 3\n{HANDS}')

    assert one.meter == Meter(7, 8, (3, 2, 2))
    assert [bar.meter.groups for bar in two.bars] == [(2, 3), (), (2, 2, 3)]
    assert same.bars == two.bars


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ('swing = "8t"', "swing: 8t cannot swing"),
        ('swing = "8 2:1, 16 60%"', "swing: only one note value can swing"),
        ('swing = "8 1:3"', "swing: 1:3 is no swing.*write the longer stroke first"),
        ('swing = "8 99%"', "swing: 99% is no swing"),
        ('swing = "8 2:"', 'swing: "2:" is no ratio'),
        ("swing = true", "swing: True is no swing"),
        ('swing = "1"', "swing: 1 cannot swing"),
        ('tempo = "80 to"', "tempo: .*does not say which tempo it reaches"),
        ('tempo = "80 to 120 over 0 bars"', "tempo: a tempo cannot change over 0 bars"),
        ('tempo = "80 to 120 over 9 bars"', "tempo: .*over 9 bars, but the section has only 1"),
        ('tempo = "80 to 120 over"', "tempo: .*over how many bars"),
        ('tempo = "80 over 2 bars"', "tempo: .*which tempo it reaches"),
        ('tempo = "to 120"', "tempo: there is no tempo before this one"),
        ('tempo = "8t = 8"', "tempo: there is no tempo before this one"),
        ('tempo = "8t = 9"', 'tempo: "9" is not a note value'),
        ('tempo = "80 to 900"', "tempo: 900.* is not a tempo"),
        ('tempo = "fast"', 'tempo: "fast" is no tempo'),
        ("tempo = nan", "tempo: nan is not a tempo"),
        ('dynamics = "p <"', "dynamics: a crescendo has no end"),
        ('dynamics = "f > > p"', "dynamics: a diminuendo has no end"),
        ('dynamics = "< f"', "dynamics: a crescendo has no beginning"),
        ('dynamics = "f < p"', "dynamics: a crescendo from f to p does not get there; write f > p"),
        ('dynamics = "f < f"', "dynamics: a crescendo from f to f does not get there"),
        ('dynamics = "loud"', 'dynamics: "loud" is no mark'),
        ('dynamics = ""', "dynamics: no mark is written"),
        ('meter = "7/8 3+2"', "meter, meter 1: the groups .* do not add up to the 7 beats"),
        ('meter = "4/4 2+0+2"', "meter, meter 1: the groups"),
        ('meter = "3+2+2"', "meter"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_place(line: str, fault: str) -> None:
    """Each is one fault under its own key, with a way out."""
    with pytest.raises(BadInput, match=f"line 1, {fault}"):
        pattern(f"{line}\n{HANDS}")


def test_a_modulation_out_of_range_is_refused_in_its_section() -> None:
    """Twice from 300 BPM by 3:2 is 675 BPM."""
    modulated = f'{SECTION}tempo = "8t = 8"\n'
    with pytest.raises(BadInput, match="section 1, tempo: this makes a tempo of 450 BPM"):
        pattern(f"tempo = 300\n{HANDS}{modulated}{modulated}")


def test_a_file_with_sections_begins_at_one_tempo() -> None:
    """A gradual change at its top is refused: it belongs to a section."""
    with pytest.raises(BadInput, match="line 1, tempo: a file with sections begins at one tempo"):
        pattern(f'tempo = "80 to 90"\n{HANDS}{SECTION}')


def test_swing_that_would_tear_strokes_apart_is_refused() -> None:
    """A sextuplet and a plain eighth meet on the and; on the beat they may."""
    feet = '[feet]\nkick = "xx"\nvalue = "8"\n'
    source = f'swing = "8 2:1"\nhands = {{ value = "16t" }}\n{feet}'
    with pytest.raises(BadInput, match=r"swing: .*kick and snare are written together in bar 1"):
        pattern(source)
    assert pattern(source.replace('"xx"', '"x-"')).swing
    assert pattern(source.replace('"16t"', '"8t"')).swing


def test_a_bar_too_short_to_swing_is_refused() -> None:
    """Two quarters do not fit a bar of 1/4."""
    with pytest.raises(BadInput, match="swing: a bar of 1/4 is too short for two 4"):
        pattern(f'swing = "4 2:1"\nmeter = "1/4"\n{HANDS}')


@pytest.mark.parametrize(
    ("value", "count", "step"),
    [
        ("32(11/8)", 11, Fraction(1, 11)),
        ("16(5/3)", 20, Fraction(3, 20)),
        ("16(7/6)", 14, Fraction(3, 14)),
        ("8t.", 6, Fraction(1, 2)),
    ],
)
def test_tuplets_of_any_ratio_fill_their_beats(value: str, count: int, step: Fraction) -> None:
    """Eleven in a beat, five in the time of three sixteenths, and a dotted triplet, which is as
    long as a plain eighth.
    """
    meter = "1/4" if count == 11 else "3/4"
    made = pattern(f'meter = "{meter}"\nhands = {{ value = "{value}" }}')

    assert [note.beat for note in made.notes[:count]] == [at * step for at in range(count)]
    assert count * step == made.meter.length
    assert {note.value for note in made.notes} == {value}


def test_a_dotted_figure_in_triplets_is_a_rhythm() -> None:
    """Dotted eighth, sixteenth, eighth: a beat of triplets."""
    made = pattern('hands = { sticking = "R L R", rhythm = "8t. 16t 8t" }')

    assert [note.beat for note in made.notes[:4]] == [0, Fraction(1, 2), Fraction(2, 3), 1]


def test_where_swing_ends_is_said() -> None:
    """A section without swing after one with it: the words say from where it is straight."""
    made = pattern(f'swing = "8 3:1"\n{HANDS}{SECTION}{SECTION}swing = "none"\n')

    assert "swing: 8 3:1 from bar 1, straight from bar 2" in description_lines(made)
