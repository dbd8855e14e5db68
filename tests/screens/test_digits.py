"""Large figures: rows that fit together, at any size."""

from __future__ import annotations

import pytest

from trainer.show.drawing import half_block_letters, large_letters


def test_figures_have_three_rows_of_one_width() -> None:
    """Any text gives three rows of equal length, so that they stand under each other."""
    rows = half_block_letters("0123456789 .-◄►■")
    assert len(rows) == 3
    assert len({len(row) for row in rows}) == 1


@pytest.mark.parametrize("times", [1, 2, 3, 4])
def test_larger_figures_grow_in_both_directions(times: int) -> None:
    """Every dot becomes a square of dots: width times, and half as many rows as dots."""
    rows = large_letters("17", times)
    assert len(rows) == -(-5 * times // 2)
    assert {len(row) for row in rows} == {len(half_block_letters("17")[0]) * times}


def test_a_one_stays_a_one() -> None:
    """Twice as large, the stem is two characters wide and the foot six."""
    assert large_letters("1", 2) == ("████  ", "  ██  ", "  ██  ", "  ██  ", "██████")
