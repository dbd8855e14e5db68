"""Grooves and fills as the made takes of tests/human_takes.py have them: strokes, bars, pieces.

Rows of signs for a bar of sixteenths, made up here in the manner of what every drummer plays.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

KICK, CROSS, SNARE, RIM, CLOSED, PEDAL, OPEN, CRASH, RIDE = 36, 37, 38, 40, 42, 44, 46, 49, 51
HIGH, MID, FLOOR = 48, 45, 43
EDGE, TOM_RIM = 22, 58
"""Notes of some modules that General MIDI does not have: the hi-hat's edge, a tom's rim."""

NORMAL, ACCENT, GHOST = 78, 108, 34


@dataclass(frozen=True)
class Due:
    """One written stroke: its beat (quarter notes), note, loudness, and how many graces lead it."""

    beat: Fraction
    note: int
    loud: int = NORMAL
    graces: int = 0


def line(text: str, note: int, start: int = 0, step: Fraction = Fraction(1, 4)) -> list[Due]:
    """Return the strokes of a line of signs, `step` quarters each: x, X loud, g soft, f flam, d."""
    loud = {"x": NORMAL, "X": ACCENT, "g": GHOST, "f": ACCENT, "d": NORMAL}
    graces = {"f": 1, "d": 2}
    return [
        Due(start + place * step, note, loud[sign], graces.get(sign, 0))
        for place, sign in enumerate(text)
        if sign in loud
    ]


GROOVES: dict[str, tuple[tuple[int, str], ...]] = {
    "rock": ((CLOSED, "x.x.x.x.x.x.x.x."), (SNARE, "....X.......X..."), (KICK, "x.....x.x.......")),
    "ghosts": (
        (CLOSED, "X.x.X.x.X.x.X.x."),
        (SNARE, "....X..g.g..X..g"),
        (KICK, "x..x..x...x....."),
    ),
    "ride": ((RIDE, "x.x.x.x.x.x.x.x."), (SNARE, "....X.......X.g."), (KICK, "x.x.......x..x..")),
    "bossa": (
        (CLOSED, "x.x.x.x.x.x.x.x."),
        (CROSS, "x.....x.....x..."),
        (KICK, "x.....xxx.....x."),
    ),
    "sixteenths": (
        (CLOSED, "xxxxxxxxxxxxxxxx"),
        (SNARE, "....X.......X..."),
        (KICK, "x......x..x....."),
    ),
    "halftime": (
        (RIDE, "x.x.x.x.x.x.x.x."),
        (SNARE, "........X.....gg"),
        (KICK, "x....x.........."),
    ),
}

FILLS: tuple[tuple[tuple[int, str], ...], ...] = (
    (
        (SNARE, "xxxx............"),
        (HIGH, "....xxxx........"),
        (MID, "........xxxx...."),
        (FLOOR, "............xxxx"),
        (KICK, "x...x...x...x..."),
    ),
    (
        (SNARE, "Xx.xX.x.X......."),
        (HIGH, "........x.xx...."),
        (FLOOR, "............f.x."),
        (KICK, "..x.........x..."),
    ),
    (
        (CLOSED, "x.x.x.x........."),
        (SNARE, "....X...Xx.xd..."),
        (FLOOR, "...........x..xx"),
        (KICK, "x.....x........."),
    ),
    (
        (SNARE, "f...f..gf...xx.x"),
        (HIGH, "..x...x........."),
        (FLOOR, "..........x...x."),
        (KICK, "x.......x......."),
    ),
)


def bar(rows: tuple[tuple[int, str], ...], number: int) -> list[Due]:
    """Return a bar of four quarters."""
    return [one for note, text in rows for one in line(text, note, 4 * number)]


def sentence(rng: np.random.Generator, bars: int, every: int = 4) -> list[Due]:
    """Return bars written through: a groove that is varied, with a fill in every fourth bar."""
    groove = GROOVES[str(rng.choice(list(GROOVES)))]
    found: list[Due] = []
    for number in range(bars):
        if every and number % every == every - 1:
            found += bar(FILLS[int(rng.integers(len(FILLS)))], number)
            continue
        own = bar(groove, number)
        found += [one for one in own if one.note != KICK or rng.random() > 0.15]
        if number % every == 0 and number:
            found = [one for one in found if (one.beat, one.note) != (4 * number, groove[0][0])]
            found.append(Due(Fraction(4 * number), CRASH, ACCENT))
    return found
