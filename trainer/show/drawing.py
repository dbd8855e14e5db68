"""Drawing with characters: large letters, arrows and bars, curves of dots, and a rate on a scale.

Letters and figures are half blocks, three rows high and larger, to be read from two metres. Shapes
have four dots to a character; a picture is a list of rows of booleans, top row first. Curves are
braille: two dots across and four down. The scale shows a rate against a ceiling on one line:

    0 ········┃····├────●─────┤··········· 14

The bar is the rate that is needed, the circle the ceiling, the line its interval; right of the bar
is reserve. It reads without colour.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.show.ink import text_width

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.show.ink import Line


_LETTER_SHAPES = {
    "0": ("█▀█", "█ █", "▀▀▀"),
    "1": ("▀█ ", " █ ", "▀▀▀"),
    "2": ("▀▀█", "█▀▀", "▀▀▀"),
    "3": ("▀▀█", " ▀█", "▀▀▀"),
    "4": ("█ █", "▀▀█", "  ▀"),
    "5": ("█▀▀", "▀▀█", "▀▀▀"),
    "6": ("█▀▀", "█▀█", "▀▀▀"),
    "7": ("▀▀█", "  █", "  ▀"),
    "8": ("█▀█", "█▀█", "▀▀▀"),
    "9": ("█▀█", "▀▀█", "▀▀▀"),
    ".": ("   ", "   ", " ▀ "),
    "-": ("   ", "▀▀▀", "   "),
    "·": ("   ", " ▀ ", "   "),
    " ": (" ", " ", " "),
    "◄": (" ▄█", "▀██", "  ▀"),
    "►": ("█▄ ", "██▀", "▀  "),
    "■": ("▄▄▄", "███", "   "),
    ":": ("▄", "▄", " "),
    ",": (" ", " ", "▀"),
    "/": ("  █", " █ ", "▀  "),
    "≠": ("▄▄█", "▄█▄", "█  "),
    "+": (" ▄ ", "▀█▀", "   "),
    "°": ("▄▀▄", " ▀ ", "   "),
    "~": ("   ", "▄▀▄", "   "),
    "%": ("█ ▄", " █ ", "▀ ▀"),
    "#": ("█▄█", "█▄█", "▀ ▀"),
    "A": ("█▀█", "█▀█", "▀ ▀"),
    "B": ("█▀▄", "█▀▄", "▀▀ "),
    "C": ("█▀▀", "█  ", "▀▀▀"),
    "D": ("█▀▄", "█ █", "▀▀ "),
    "E": ("█▀▀", "█▀▀", "▀▀▀"),
    "F": ("█▀▀", "█▀▀", "▀  "),
    "G": ("█▀▀", "█ █", "▀▀▀"),
    "H": ("█ █", "█▀█", "▀ ▀"),
    "I": ("█", "█", "▀"),
    "J": ("  █", "▄ █", "▀▀▀"),
    "K": ("█ █", "█▀▄", "▀ ▀"),
    "L": ("█  ", "█  ", "▀▀▀"),
    "M": ("█▄ ▄█", "█ ▀ █", "▀   ▀"),
    "N": ("█▄ █", "█ ▀█", "▀  ▀"),
    "O": ("█▀█", "█ █", "▀▀▀"),
    "P": ("█▀█", "█▀▀", "▀  "),
    "Q": ("█▀█", "█▄█", "  ▀"),
    "R": ("█▀█", "█▀▄", "▀ ▀"),
    "S": ("█▀▀", "▀▀█", "▀▀▀"),
    "T": ("▀█▀", " █ ", " ▀ "),
    "U": ("█ █", "█ █", "▀▀▀"),
    "V": ("█ █", "█ █", " ▀ "),
    "W": ("█   █", "█ ▄ █", "▀▀ ▀▀"),
    "X": ("█ █", "▄▀▄", "▀ ▀"),
    "Y": ("█ █", "▀█▀", " ▀ "),
    "Z": ("▀▀█", "▄▀ ", "▀▀▀"),
}

LETTER_ROWS = 3


@lru_cache(256)
def half_block_letters(text: str) -> tuple[str, str, str]:
    """Return three rows that show figures, letters and a few signs; other characters are blank."""
    shapes = [_LETTER_SHAPES.get(character.upper(), _LETTER_SHAPES[" "]) for character in text]
    return tuple(" ".join(shape[row] for shape in shapes) for row in range(LETTER_ROWS))  # type: ignore[return-value]


@lru_cache(256)
def large_letters(text: str, times: int) -> tuple[str, ...]:
    """Return the same figures with every dot `times` as wide and as high."""
    dots = [row for line in half_block_letters(text) for row in _halves(line)]
    wide = ["".join(dot * times for dot in row) for row in dots[:LETTER_DOTS] for _ in range(times)]
    wide += [" " * len(wide[0])] * (len(wide) % 2)
    return tuple(
        "".join(_BLOCK[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(wide[::2], wide[1::2], strict=True)
    )


def wrapped_large_letters(text: str, columns: int, times: int) -> list[str]:
    """Return a text in large, its words on as many lines as the width needs."""
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and len(large_letters(joined, times)[0]) <= columns:
            lines[-1] = joined
        else:
            lines.append(word)
    return [row for line in lines for row in large_letters(line, times)]


LETTER_DOTS = 5
"""Dots of a figure from top to bottom; the sixth is the room below."""

_BLOCK = {(" ", " "): " ", ("#", " "): "▀", (" ", "#"): "▄", ("#", "#"): "█"}


def _halves(line: str) -> tuple[str, str]:
    """Return the upper and the lower dots of a row of half blocks."""
    upper = "".join("#" if block in "▀█" else " " for block in line)
    lower = "".join("#" if block in "▄█" else " " for block in line)
    return upper, lower


_QUADRANTS = " ▗▖▄▝▐▞▟▘▚▌▙▀▜▛█"
"""The character for each set of dots: 8 upper left, 4 upper right, 2 lower left, 1 lower right."""


def dot_rows(picture: list[list[bool]]) -> tuple[str, ...]:
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
def arrow_shape(across: int, down: int, height: int, *, left: bool) -> tuple[str, ...]:
    """Return a solid arrow of so many dots, in the middle of `height` dots; it points outwards.

    `left` points to the left and is on the left edge; one to the right is on the right of
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
    return dot_rows(picture)


@lru_cache(256)
def chevron_shape(across: int, height: int, thick: int) -> tuple[str, ...]:
    """Return the two strokes of `>`, `thick` dots wide."""
    middle = (height - 1) / 2
    tips = [round((across - thick) * (1 - abs(y - middle) / middle)) for y in range(height)]
    return dot_rows([[tip <= x < tip + thick for x in range(across)] for tip in tips])


@lru_cache(256)
def bar_shape(across: int, thick: int, height: int) -> tuple[str, ...]:
    """Return a level bar, `thick` dots high, in the middle of `height` dots."""
    first = (height - thick) // 2
    return dot_rows([[first <= y < first + thick] * across for y in range(height)])


BRAILLE_ACROSS, BRAILLE_DOWN = 2, 4
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))


class BrailleSheet:
    """A sheet of `columns` by `rows` characters; dots count from the top left.

    A character has one ink: that of the dot that was set last, so what matters is drawn last.
    """

    def __init__(self, columns: int, rows: int) -> None:
        self.columns, self.rows = max(0, columns), max(0, rows)
        self.width, self.height = self.columns * BRAILLE_ACROSS, self.rows * BRAILLE_DOWN
        self._bits = [[0] * self.columns for _ in range(self.rows)]
        self._inks = [["plain"] * self.columns for _ in range(self.rows)]
        self._signs: dict[tuple[int, int], tuple[str, str]] = {}

    def cell(self, x: float, y: float) -> tuple[int, int]:
        """Return the character (row, column) that a dot is in."""
        return round(y) // BRAILLE_DOWN, round(x) // BRAILLE_ACROSS

    def put(self, row: int, column: int, sign: str, ink: str) -> None:
        """Put a sign in place of a character's dots; nothing outside the sheet."""
        if 0 <= row < self.rows and 0 <= column < self.columns:
            if text_width(self.sign_at(row, column)) > 1:
                self._signs[row, column + 1] = (" ", ink)
            elif self._signs.get((row, column), (" ", ""))[0] == "":
                self._signs[row, column - 1] = (" ", ink)
            self._signs[row, column] = (sign, ink)

    def write(self, row: int, column: int, text: str, ink: str) -> None:
        """Put a text in place of the characters from one on; a wide sign takes two."""
        for sign in text:
            for place in range(text_width(sign)):
                self.put(row, column + place, "" if place else sign, ink)
            column += text_width(sign)

    def sign_at(self, row: int, column: int) -> str:
        """Return the sign that was put into a character, empty where none was."""
        return self._signs.get((row, column), ("", ""))[0]

    def set(self, x: float, y: float, ink: str) -> None:
        """Set a dot, rounded to its place; nothing outside the sheet."""
        across, down = round(x), round(y)
        if 0 <= across < self.width and 0 <= down < self.height:
            row, column = down // BRAILLE_DOWN, across // BRAILLE_ACROSS
            self._bits[row][column] |= _BITS[down % BRAILLE_DOWN][across % BRAILLE_ACROSS]
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
                self._signs.get((down, across), (chr(0x2800 + bits) if bits else " ", ink))
                for across, (bits, ink) in enumerate(zip(row, inks, strict=True))
            )
            for down, (row, inks) in enumerate(zip(self._bits, self._inks, strict=True))
        ]


STAIR_COLUMNS, STAIR_ROWS = 60, 12
"""How large a staircase is at most; of more rungs the last ones are drawn."""


STAIR_AXIS = "│"
"""Between the tempo of a row and its rungs."""


def staircase(rungs: Sequence[tuple[float, bool]]) -> list[str]:
    """Return a ladder as a picture: a column for each rung at its tempo (BPM), clean ● or not ×."""
    drawn = list(rungs)[-STAIR_COLUMNS:]
    tempos = sorted({tempo for tempo, _ in drawn})
    if not tempos:
        return []
    low, span = tempos[0], tempos[-1] - tempos[0]
    rows = min(len(tempos), STAIR_ROWS)
    apart = 2 if 2 * len(drawn) <= STAIR_COLUMNS else 1
    lines = [[" "] * apart * len(drawn) for _ in range(rows)]
    for column, (tempo, clean) in enumerate(drawn):
        up = round((tempo - low) / span * (rows - 1)) if span else 0
        lines[up][apart * column] = "●" if clean else "×"
    labels = [low + span * row / max(1, rows - 1) for row in range(rows)]
    return [
        f"{label:>5.0f} {STAIR_AXIS} {''.join(line).rstrip()}".rstrip()
        for label, line in zip(labels, lines, strict=True)
    ][::-1]


SCALE_ROOM = 1.15
"""The scale ends this share above the largest thing on it."""


def rate_scale(needed: float, low: float, middle: float, high: float, columns: int) -> str:
    """Return the line, `columns` wide; all four are strokes a second."""
    # An interval that is open above must not make the rest small.
    end = math.ceil(SCALE_ROOM * max(needed, middle, min(high, 2.0 * max(needed, middle))))
    room = columns - len(f"0  {end}")

    def place(rate: float) -> int:
        return round(min(1.0, max(0.0, rate / end)) * (room - 1))

    first, last = place(low), place(high)
    cells = ["·"] * room
    cells[first : last + 1] = "─" * (last + 1 - first)
    cells[first], cells[last] = "├", "┤"
    cells[place(middle)] = "●"
    cells[place(needed)] = "┃"
    return f"0 {''.join(cells)} {end}"
