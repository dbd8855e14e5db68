"""The written grid: its columns, rows and cells."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from stage import pattern

from trainer import toml_text
from trainer.pattern.formats.tab import to_tab
from trainer.pattern.language import notation
from trainer.pattern.model import Bar, Meter, Note
from trainer.practice.course import Pass, pass_beats
from trainer.show.grid import UNITS, Cell, PatternGrid, bar_columns


@pytest.mark.parametrize(("per_beat", "columns"), [(1, 4), (2, 8), (3, 12), (4, 16), (8, 32)])
def test_a_bar_has_as_many_columns_as_steps(per_beat: int, columns: int) -> None:
    """Even note values give one column a stroke, and the beats are numbered from 1."""
    bar = PatternGrid(pattern(per_beat=per_beat)).bars[0]
    assert len(bar.beats) == columns
    assert [number for number in bar.counts if number] == [1, 2, 3, 4]


def test_a_step_left_out_keeps_its_column() -> None:
    """Rests stand on the grid, so that distance on the screen is distance in time."""
    whole = pattern()
    rests = replace(whole, notes=tuple(n for n in whole.notes if n.beat != Fraction(5, 4)))
    assert PatternGrid(rests).bars == PatternGrid(whole).bars


def test_steps_too_fine_for_even_columns_stand_where_they_are_written() -> None:
    """Fives against fours would need twenty columns a beat; only written steps and beats stay."""
    bar = Bar(Fraction(0), Meter(4, 4))
    beats = sorted({Fraction(i, 4) for i in range(16)} | {Fraction(i, 5) for i in range(5)})
    notes = tuple(Note(beat, "snare") for beat in beats)
    made = bar_columns(replace(pattern(), bars=(bar,), notes=notes), bar)
    assert list(made.beats) == beats


def test_rows_are_the_voices_used_from_cymbals_to_feet() -> None:
    """Rows keep the order drummers write them in, whatever order the pattern names them."""
    grid = PatternGrid(pattern(("floor", "hihat", "snare")))
    assert grid.rows == ("hihat", "snare", "floor", "kick")
    assert grid.row_of("crash") == grid.row_of(None) == 4


def test_every_note_has_the_cell_of_its_bar_step_and_voice() -> None:
    """A note in the third bar stands in that bar, on its step, on its voice's row."""
    made = pattern(bars=3)
    grid = PatternGrid(made)
    index = next(i for i, n in enumerate(made.notes) if n.beat == Fraction(37, 4))
    assert grid.cell_of(index) == Cell(2, 5, grid.rows.index(made.notes[index].voice))
    assert all(index in grid.notes[grid.cell_of(index)] for index in range(len(made.notes)))


@pytest.mark.parametrize(
    ("beat", "place"),
    [(0.0, (0, 0)), (0.24, (0, 1)), (1.1, (0, 4)), (3.95, (1, 0)), (7.99, (1, 15))],
)
def test_a_beat_stands_in_its_nearest_column(beat: float, place: tuple[int, int]) -> None:
    """Just before a bar line the nearest step is the next bar's first, if there is one."""
    assert PatternGrid(pattern(bars=2)).place(beat) == place


def test_steps_too_fine_for_even_columns_are_as_wide_as_they_are_long() -> None:
    """Quintuplets over a foot on every eighth: the two meet where time says, not in every cell."""
    bar = Bar(Fraction(0), Meter(4, 4))
    beats = sorted({Fraction(i, 5) for i in range(20)} | {Fraction(i, 2) for i in range(8)})
    notes = tuple(Note(beat, "snare") for beat in beats)
    made = bar_columns(replace(pattern(), bars=(bar,), notes=notes), bar)
    assert made.units == (2, 2, 1, 1, 2, 2) * 4
    # As far apart on the screen as in time, whatever the widths were rounded to.
    for column, beat in enumerate(made.beats):
        assert sum(made.units[:column]) == beat * sum(made.units) / 4


def test_every_step_has_its_room_in_a_bar_without_end_of_steps() -> None:
    """Sevens against fives and fours: no step vanishes, and the bar keeps its bounds."""
    bar = Bar(Fraction(0), Meter(4, 4))
    beats = sorted({Fraction(i, k) for k in (4, 5, 7) for i in range(4 * k)})
    made = bar_columns(
        replace(pattern(), bars=(bar,), notes=tuple(Note(beat, "snare") for beat in beats)), bar
    )
    assert len(made.units) == len(made.beats) == len(beats)
    assert min(made.units) == 1
    assert sum(made.units) <= 2 * UNITS


@pytest.mark.parametrize(("unit", "beats"), [("8", [1, 2, 3, 4, 5, 6]), ("4.", [1, 2])])
def test_six_eight_is_counted_as_its_tempo_counts(unit: str, beats: list[int]) -> None:
    """Page, grid and click count six beats, or two where the tempo counts dotted quarters."""
    source = f"meter = '6/8'\ntempo_unit = '{unit}'\nhands = {{ sticking = 'RLRLRL', value = '8' }}"
    made = notation.read(toml_text.parse(source), "six", source)

    counted = [count for count in bar_columns(made, made.bars[0]).counts if count]
    clicks = pass_beats(made, Pass(0, 60.0, 0.0))
    tab = to_tab(made)[1]
    assert counted == [beat.beat + 1 for beat in clicks] == beats
    assert [int(sign) for sign in tab if sign.isdigit()] == beats
