"""Curves of braille dots: two dots across and four down in every character."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.screens.ink import Line

ACROSS, DOWN = 2, 4
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


class Dots:
    """A sheet of `columns` by `rows` characters; dots count from the top left.

    A character has one ink: that of the dot that was set last, so what matters is drawn last.
    """

    def __init__(self, columns: int, rows: int) -> None:
        self.columns, self.rows = max(0, columns), max(0, rows)
        self.width, self.height = self.columns * ACROSS, self.rows * DOWN
        self._bits = [[0] * self.columns for _ in range(self.rows)]
        self._inks = [["plain"] * self.columns for _ in range(self.rows)]

    def set(self, x: float, y: float, ink: str) -> None:
        """Set a dot, rounded to its place; nothing outside the sheet."""
        across, down = round(x), round(y)
        if 0 <= across < self.width and 0 <= down < self.height:
            row, column = down // DOWN, across // ACROSS
            self._bits[row][column] |= _BITS[down % DOWN][across % ACROSS]
            self._inks[row][column] = ink

    def line(self, start: tuple[float, float], end: tuple[float, float], ink: str) -> None:
        """Set the dots of a straight line."""
        (x, y), (to_x, to_y) = start, end
        steps = max(1, round(max(abs(to_x - x), abs(to_y - y))))
        for step in range(steps + 1):
            share = step / steps
            self.set(x + (to_x - x) * share, y + (to_y - y) * share, ink)

    def lines(self) -> list[Line]:
        """Return the sheet as inked lines."""
        return [
            tuple(
                (chr(0x2800 + bits) if bits else " ", ink)
                for bits, ink in zip(row, inks, strict=True)
            )
            for row, inks in zip(self._bits, self._inks, strict=True)
        ]
