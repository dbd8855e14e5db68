"""Shapes made of small dots, four to a character: arrows, bars and strokes of any size.

A picture is a list of rows of booleans, top row first; a character shows two rows of two dots.
"""

from __future__ import annotations

from functools import lru_cache

_QUADRANTS = " ▗▖▄▝▐▞▟▘▚▌▙▀▜▛█"
"""The character for each set of dots: 8 upper left, 4 upper right, 2 lower left, 1 lower right."""


def rows(picture: list[list[bool]]) -> tuple[str, ...]:
    """Return a picture as rows of characters; odd edges are filled up with blanks."""
    across = max(map(len, picture), default=0)
    even = [[*row, *[False] * (across + across % 2 - len(row))] for row in picture]
    even += [[False] * (across + across % 2)] * (len(even) % 2)
    return tuple(
        "".join(
            _QUADRANTS[8 * upper[x] + 4 * upper[x + 1] + 2 * lower[x] + lower[x + 1]]
            for x in range(0, len(upper), 2)
        )
        for upper, lower in zip(even[::2], even[1::2], strict=True)
    )


@lru_cache(256)
def arrow(across: int, down: int, height: int, *, left: bool) -> tuple[str, ...]:
    """Return a solid arrow of so many dots, in the middle of `height` dots; it points outwards.

    `left` points to the left and stands on the left edge; one to the right stands on the right of
    an even number of dots.
    """
    middle = (height - 1) / 2
    picture = []
    for y in range(height):
        away = abs(y - middle) / (down / 2)
        long = round(across * (1.3 - away)) if away < 1 else 0
        long = max(1, min(across, long)) if away < 1 else 0
        row = [False] * (across - long) + [True] * long
        picture.append(row if left else [False] * (across % 2) + row[::-1])
    return rows(picture)


@lru_cache(256)
def chevron(across: int, height: int, thick: int) -> tuple[str, ...]:
    """Return the two strokes of `>`, `thick` dots wide."""
    middle = (height - 1) / 2
    tips = [round((across - thick) * (1 - abs(y - middle) / middle)) for y in range(height)]
    return rows([[tip <= x < tip + thick for x in range(across)] for tip in tips])


@lru_cache(256)
def bar(across: int, thick: int, height: int) -> tuple[str, ...]:
    """Return a level bar, `thick` dots high, in the middle of `height` dots."""
    first = (height - thick) // 2
    return rows([[first <= y < first + thick] * across for y in range(height)])
