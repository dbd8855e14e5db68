"""Shapes of small dots: they point where they should and stay inside their rows."""

from __future__ import annotations

import pytest

from trainer.show import drawing


def test_four_dots_make_a_character() -> None:
    """Each quarter of a character is a dot of its own."""
    assert drawing.dot_rows([[True, False, True, True], [False, True, True, False]]) == ("▚▛",)


@pytest.mark.parametrize("across", [1, 3, 5, 8])
@pytest.mark.parametrize("height", [5, 10, 15])
def test_an_arrow_points_outwards(across: int, height: int) -> None:
    """Its tip is on the outer edge at half height, and left and right mirror each other."""
    left = drawing.arrow_shape(across, height, height, left=True)
    right = drawing.arrow_shape(across, height, height, left=False)
    assert len(left) == -(-height // 2)
    mirror = str.maketrans("▗▖▝▐▞▟▘▚▌▙▜▛", "▖▗▘▌▚▙▝▞▐▟▛▜")
    assert tuple(row[::-1].translate(mirror) for row in left) == right
    tip = left[(height - 1) // 4]
    assert tip[0] != " "


def test_a_bar_lies_in_the_middle() -> None:
    """One dot of five is the third from the top."""
    assert drawing.bar_shape(4, 1, 5) == ("  ", "▀▀", "  ")
