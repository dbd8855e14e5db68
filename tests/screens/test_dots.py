"""Shapes of small dots: they point where they should and stay inside their rows."""

from __future__ import annotations

import pytest

from trainer.screens import dots


def test_four_dots_make_a_character() -> None:
    """Each quarter of a character is a dot of its own."""
    assert dots.rows([[True, False, True, True], [False, True, True, False]]) == ("▚▛",)


@pytest.mark.parametrize("across", [1, 3, 5, 8])
@pytest.mark.parametrize("height", [5, 10, 15])
def test_an_arrow_points_outwards(across: int, height: int) -> None:
    """Its tip is on the outer edge at half height, and left and right mirror each other."""
    left = dots.arrow(across, height, height, left=True)
    right = dots.arrow(across, height, height, left=False)
    assert len(left) == -(-height // 2)
    mirror = str.maketrans("▗▖▝▐▞▟▘▚▌▙▜▛", "▖▗▘▌▚▙▝▞▐▟▛▜")
    assert tuple(row[::-1].translate(mirror) for row in left) == right
    tip = left[(height - 1) // 4]
    assert tip[0] != " "


def test_a_bar_lies_in_the_middle() -> None:
    """One dot of five is the third from the top."""
    assert dots.bar(4, 1, 5) == ("  ", "▀▀", "  ")
