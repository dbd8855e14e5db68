"""Figures three rows high, made of half blocks, for what is read from two metres."""

from __future__ import annotations

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
    " ": ("   ", "   ", "   "),
}

HEIGHT = 3


def big(text: str) -> tuple[str, str, str]:
    """Return three rows that show digits, a point, a minus or a dot; other characters are blank."""
    shapes = [_ROWS.get(character, _ROWS[" "]) for character in text]
    return tuple(" ".join(shape[row] for shape in shapes) for row in range(HEIGHT))  # type: ignore[return-value]
