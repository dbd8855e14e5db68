"""The sticking under a chord: R, L, B for both hands, small letters before for grace strokes.

The same few letters are written and read, so that a printed page says which hand plays what. Where
two hands strike together B means the right hand on the upper drum (or both on one), and L/R the
left hand on the upper.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from trainer.pattern.tables import Limb

if TYPE_CHECKING:
    from collections.abc import Sequence

_LETTER: dict[Limb | None, str] = {Limb.RH: "R", Limb.LH: "L"}
_HANDS: dict[str, tuple[Limb, ...]] = {
    "R": (Limb.RH,),
    "L": (Limb.LH,),
    "B": (Limb.RH, Limb.LH),
    "R/L": (Limb.RH, Limb.LH),
    "L/R": (Limb.LH, Limb.RH),
}
_SPELLING = re.compile(r"([rl]*)(R/L|L/R|[RLB])", re.ASCII)


def letters(mains: Sequence[Limb | None], graces: Sequence[Limb | None]) -> str:
    """Return the letters of a chord, its limbs from the upper drum down, graces as played.

    Empty where no hand is known; what the letters cannot tell is left out of them.
    """
    hands = [limb for limb in mains if limb in _LETTER]
    if not hands:
        return ""
    soft = "".join(_LETTER.get(limb, "") for limb in graces).lower()
    if hands[:2] == [Limb.RH, Limb.LH]:
        return f"{soft}B"
    return soft + "/".join(dict.fromkeys(_LETTER[limb] for limb in hands[:2]))


def limbs(text: str) -> tuple[tuple[Limb, ...], tuple[Limb, ...]]:
    """Return the limbs of a chord and of its grace strokes; empty where the text is no sticking."""
    found = _SPELLING.fullmatch(text.strip())
    if not found:
        return (), ()
    return _HANDS[found[2]], tuple(_HANDS[letter.upper()][0] for letter in found[1])
