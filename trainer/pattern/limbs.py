"""Which limbs a pattern file writes for, told from its table without laying it out."""

from __future__ import annotations

from typing import Any

from trainer.pattern.ostinatos import OSTINATOS, Ostinato
from trainer.pattern.tables import FOOT_LIMB


def limbs(table: dict[str, Any]) -> tuple[str, ...]:
    """Return the limbs a parsed file writes for, without laying it out."""
    sections = table.get("section")
    parts = [table, *(sections if isinstance(sections, list) else ())]
    used = set()
    for part in (part for part in parts if isinstance(part, dict)):
        hands, feet, bars = (part.get(name) for name in ("hands", "feet", "bars"))
        if hands:
            used |= _sticking_limbs(hands)
        feet = {"ostinato": feet} if isinstance(feet, str) else feet
        if isinstance(feet, dict):
            known = _ostinato(feet.get("ostinato"))
            feet_voices = {*feet, *(known.rows if known else ())}
            used |= {FOOT_LIMB[voice] for voice in feet_voices if voice in FOOT_LIMB}
        if isinstance(bars, dict):
            voices = {str(key).partition(":")[0] for key in bars} - {"value", "sticking"}
            used |= {FOOT_LIMB[voice] for voice in voices if voice in FOOT_LIMB}
            if voices - FOOT_LIMB.keys():
                used |= _sticking_limbs({"sticking": bars.get("sticking", "RL")})
    return tuple(limb for limb in ("RH", "LH", "RF", "LF") if limb in used)


def _ostinato(name: Any) -> Ostinato | None:
    return OSTINATOS.get(name) if isinstance(name, str) else None


def _sticking_limbs(hands: Any) -> set[str]:
    text = hands.get("sticking", "RL") if isinstance(hands, dict) else hands
    if isinstance(text, list):
        text = " ".join(part for part in text if isinstance(part, str))
    if not isinstance(text, str):
        return set()
    if isinstance(hands, dict) and hands.get("lead") in ("left", "both"):
        text += text.translate(str.maketrans("RL", "LR"))
    signs = {"R": {"RH"}, "L": {"LH"}, "B": {"RH", "LH"}, "K": {"RF"}, "H": {"LF"}}
    signs |= {"r": {"RH"}, "l": {"LH"}}
    return set().union(*(signs.get(sign, set()) for sign in text))
