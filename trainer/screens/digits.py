"""Figures and letters of half blocks, three rows high and larger: what is read from two metres."""

from __future__ import annotations

from functools import lru_cache

_ROWS = {
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

HEIGHT = 3


@lru_cache(256)
def big(text: str) -> tuple[str, str, str]:
    """Return three rows that show figures, letters and a few signs; other characters are blank."""
    shapes = [_ROWS.get(character.upper(), _ROWS[" "]) for character in text]
    return tuple(" ".join(shape[row] for shape in shapes) for row in range(HEIGHT))  # type: ignore[return-value]


@lru_cache(256)
def larger(text: str, times: int) -> tuple[str, ...]:
    """Return the same figures with every dot `times` as wide and as high."""
    dots = [row for line in big(text) for row in _halves(line)]
    wide = ["".join(dot * times for dot in row) for row in dots[:DOTS] for _ in range(times)]
    wide += [" " * len(wide[0])] * (len(wide) % 2)
    return tuple(
        "".join(_BLOCK[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(wide[::2], wide[1::2], strict=True)
    )


def wrapped(text: str, columns: int, times: int) -> list[str]:
    """Return a text in large, its words on as many lines as a width asks for."""
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and len(larger(joined, times)[0]) <= columns:
            lines[-1] = joined
        else:
            lines.append(word)
    return [row for line in lines for row in larger(line, times)]


DOTS = 5
"""Dots of a figure from top to bottom; the sixth is the room below."""

_BLOCK = {(" ", " "): " ", ("#", " "): "▀", (" ", "#"): "▄", ("#", "#"): "█"}


def _halves(line: str) -> tuple[str, str]:
    """Return the upper and the lower dots of a row of half blocks."""
    upper = "".join("#" if block in "▀█" else " " for block in line)
    lower = "".join("#" if block in "▄█" else " " for block in line)
    return upper, lower
