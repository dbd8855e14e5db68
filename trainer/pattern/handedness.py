"""Patterns on a left-handed kit: hands and feet exchanged, drums kept.

Patterns are written for a kit with the hi-hat on the left. On its mirror image the left hand plays
what is written for the right one, and the left foot the kick; a pattern with both leads begins with
the other one. Where a text names a hand or a foot, the names are exchanged too. What a pattern is
called, and its drums, stay: sessions, ways and aims find it by its name.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from trainer.pattern.model import Limb

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern

OTHER_LIMB = {
    Limb.RH: Limb.LH,
    Limb.LH: Limb.RH,
    Limb.RF: Limb.LF,
    Limb.LF: Limb.RF,
}
_SIDE = re.compile(
    r"\b(right|left)(?=[ -](?:hand|foot|feet|lead|stick|one|arm|plays|leads|travels|on the|then)\b"
    r"|’s|'s)|(?<=\b[Tt]he )(right|left)\b(?! crash| kick)",
    re.IGNORECASE,
)
_OTHER = {"right": "left", "left": "right", "Right": "Left", "Left": "Right"}


def mirrored(pattern: Pattern) -> Pattern:
    """Return a pattern as the mirror image of a kit needs it; mirrored twice it is itself."""
    sections = tuple(replace(one, title=other_side(one.title)) for one in pattern.sections)
    return replace(
        pattern,
        title=other_side(pattern.title),
        about=other_side(pattern.about),
        notes=tuple(replace(one, limb=one.limb and OTHER_LIMB[one.limb]) for one in pattern.notes),
        sections=sections,
        left_handed=not pattern.left_handed,
    )


def other_side(words: str) -> str:
    """Return words with the names of hands and feet exchanged: "the left hand", "left lead"."""
    return _SIDE.sub(lambda found: _OTHER.get(found[0], found[0]), words)
