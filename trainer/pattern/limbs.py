"""Which limbs a pattern file writes for, read off its table without laying it out.

Lists of patterns show it, so it has to be quick, and has to bear with whatever a file holds.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.pattern.language.rows import OSTINATOS
from trainer.pattern.model import FOOT_LIMB

if TYPE_CHECKING:
    from trainer.pattern.language.rows import Ostinato


def limbs_of_table(table: dict[str, Any]) -> tuple[str, ...]:
    """Return the limbs a parsed file writes for, without laying it out."""
    sections = table.get("section")
    parts = [table, *(sections if isinstance(sections, list) else ())]
    used = set()
    for part in (part for part in parts if isinstance(part, dict)):
        feet, bars = part.get("feet"), part.get("bars")
        hands = _hands_table(table) | _hands_table(part)
        lead = hands.get("lead")
        if hands and hands.keys() != {"lead"}:
            used |= _sticking_limbs(hands)
        feet = {"ostinato": feet} if isinstance(feet, str) else feet
        if isinstance(feet, dict):
            known = _ostinato_of(feet.get("ostinato"))
            feet_voices = {*feet, *(known.rows if known else ())}
            used |= {FOOT_LIMB[voice] for voice in feet_voices if voice in FOOT_LIMB}
        if isinstance(bars, dict):
            voices = {str(key).partition("/")[0] for key in bars} - {"value", "sticking"}
            used |= {FOOT_LIMB[voice] for voice in voices if voice in FOOT_LIMB}
            if voices - FOOT_LIMB.keys():
                used |= _sticking_limbs({"sticking": bars.get("sticking", "RL"), "lead": lead})
    return tuple(limb for limb in ("RH", "LH", "RF", "LF") if limb in used)


def taken_names(table: dict[str, Any]) -> set[str]:
    """Return the patterns that a file takes in, without changes."""
    sections = table.get("section")
    parts = [table, *(sections if isinstance(sections, list) else ())]
    names = [part.get("pattern") for part in parts if isinstance(part, dict)]
    phrase = table.get("phrase")
    phrase = ", ".join(map(str, phrase)) if isinstance(phrase, list) else phrase
    names += phrase.split(",") if isinstance(phrase, str) else []
    words = (name.strip("|: ").split(" ") for name in names if isinstance(name, str))
    return {word[0] for word in words if word[0]}


def _ostinato_of(name: Any) -> Ostinato | None:
    return OSTINATOS.get(name) if isinstance(name, str) else None


def _hands_table(part: dict[str, Any]) -> dict[str, Any]:
    """Return what a file or a section of it says of the hands, as a table."""
    hands = part.get("hands")
    if isinstance(hands, str) and hands != "none":
        hands = {"sticking": hands}
    return hands if isinstance(hands, dict) else {}


def _sticking_limbs(hands: dict[str, Any]) -> set[str]:
    text = hands.get("sticking", "RL")
    if isinstance(text, list):
        text = " ".join(part for part in text if isinstance(part, str))
    if not isinstance(text, str):
        return set()
    lead = hands.get("lead")
    if lead in ("left", "both"):
        exchanged = text.translate(str.maketrans("RLrl", "LRlr"))
        text = exchanged if lead == "left" else text + exchanged
    signs = {"R": {"RH"}, "L": {"LH"}, "B": {"RH", "LH"}, "K": {"RF"}, "H": {"LF"}}
    signs |= {"r": {"RH"}, "l": {"LH"}}
    return set().union(*(signs.get(sign, set()) for sign in text))
