"""The looks: night, paper (light), contrast, and one for sixteen colours.

Early and late are sky blue and orange, a pair that every common kind of colour-blindness keeps
apart (M. Okabe and K. Ito, Color Universal Design); their signs say the same without colour. How
far apart all inks stay is computed in `tests/published/test_colours.py`.
"""

from __future__ import annotations

from textual.theme import Theme

NIGHT = Theme(
    name="night",
    primary="#8fb3d9",
    secondary="#c9b458",
    accent="#e69f00",
    foreground="#e8e6e1",
    background="#101216",
    surface="#171a20",
    panel="#1f232b",
    success="#58c29a",
    warning="#f0e442",
    error="#f0805a",
    dark=True,
    variables={"off": "#e69f00", "faint": "#8b919c"},
)

PAPER = Theme(
    name="paper",
    primary="#1f4e79",
    secondary="#6b5900",
    accent="#8a4b00",
    foreground="#16181c",
    background="#faf8f3",
    surface="#f0ede5",
    panel="#e4e0d5",
    success="#00694a",
    warning="#5a2ca0",
    error="#5a0000",
    dark=False,
    variables={"off": "#8f4700", "faint": "#5d616a"},
)

CONTRAST = Theme(
    name="contrast",
    primary="#ffffff",
    secondary="#ffff00",
    accent="#ffff00",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#1c1c1c",
    success="#7dffb8",
    warning="#ffff00",
    error="#ff9d7a",
    dark=True,
    variables={"off": "#ffb733", "faint": "#c8c8c8"},
)

SIXTEEN = Theme(
    name="sixteen",
    primary="#55ffff",
    secondary="#ffff55",
    accent="#ffff55",
    foreground="#ffffff",
    background="#000000",
    surface="#000000",
    panel="#000000",
    success="#55ff55",
    warning="#ffff55",
    error="#ff5555",
    dark=True,
    variables={"off": "#ff55ff", "faint": "#aaaaaa"},
)
"""For a terminal of sixteen colours, each of these exactly one of them."""

THEMES = (NIGHT, PAPER, CONTRAST, SIXTEEN)
