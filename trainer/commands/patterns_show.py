"""What `trainer patterns show --json` says of a pattern."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainer.pattern.description import demand

if TYPE_CHECKING:
    from trainer.pattern.model import Pattern


def document(pattern: Pattern) -> dict[str, Any]:
    """Return the JSON shape of a pattern; beats are quarter notes as exact fractions."""
    asked = demand(pattern)
    return {
        "name": pattern.name,
        "title": pattern.title,
        "about": pattern.about,
        "tags": list(pattern.tags),
        "level": pattern.level,
        "tempo": pattern.tempo,
        "meter": str(pattern.meter),
        "meters": [str(bar.meter) for bar in pattern.bars],
        "beats": str(pattern.length),
        "strokes": pattern.strokes,
        "limbs": {str(limb or "unknown"): count for limb, count in asked.limbs.items()},
        "voices": asked.voices,
        "moves": [
            {"limb": limb, "from": one, "to": two, "count": count}
            for (limb, one, two), count in asked.moves.items()
        ],
        "sections": [
            {
                "title": section.title,
                "first_bar": section.first_bar,
                "bars": section.bar_count,
                "times": section.times,
            }
            for section in pattern.sections
        ],
        "assumed": list(pattern.assumed),
        "warnings": list(asked.warnings),
        "notes": [
            {
                "beat": str(note.beat),
                "voice": note.voice,
                "limb": note.limb,
                "level": note.level,
                "zone": note.zone,
                "value": note.value,
                "grace": note.grace,
            }
            for note in pattern.notes
        ],
    }
