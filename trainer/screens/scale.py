"""A rate against a ceiling on one line: where what is asked lies, and where the ceiling lies.

    0 ········┃····├────●─────┤··········· 14

The bar is what is asked, the circle the ceiling, and the line its interval; to the right of the bar
is reserve. Signs alone say it, so it reads without colour.
"""

from __future__ import annotations

import math

ROOM = 1.15
"""The scale ends this share above the largest thing on it."""


def scale(asked: float, low: float, middle: float, high: float, columns: int) -> str:
    """Return the line, `columns` wide; all four are strokes a second."""
    # An interval that is open above must not make the rest small.
    end = math.ceil(ROOM * max(asked, middle, min(high, 2.0 * max(asked, middle))))
    room = columns - len(f"0  {end}")

    def place(rate: float) -> int:
        return round(min(1.0, max(0.0, rate / end)) * (room - 1))

    first, last = place(low), place(high)
    cells = ["·"] * room
    cells[first : last + 1] = "─" * (last + 1 - first)
    cells[first], cells[last] = "├", "┤"
    cells[place(middle)] = "●"
    cells[place(asked)] = "┃"
    return f"0 {''.join(cells)} {end}"
