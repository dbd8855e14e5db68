"""What `--json` promises about patterns: their list, one of them, ways, and what a take fits."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.actions.recognise import Recognised
    from trainer.actions.ways import WayState
    from trainer.pattern.library import PatternEntry
    from trainer.pattern.model import Pattern


def pattern_list_document(entries: Sequence[PatternEntry]) -> dict[str, Any]:
    """Return a list of patterns."""
    return {
        "patterns": [
            {
                "name": entry.name,
                "title": entry.title,
                "tags": list(entry.tags),
                "level": entry.level,
                "limbs": list(entry.limbs),
                "about": entry.about,
                "path": str(entry.path),
                "own": entry.own,
                "fault": entry.fault or None,
            }
            for entry in entries
        ]
    }


def pattern_document(pattern: Pattern) -> dict[str, Any]:
    """Return the JSON shape of a pattern; beats are quarter notes as exact fractions."""
    from trainer.pattern.description import demand
    from trainer.pattern.json_data import feel_to_dict, full_note
    from trainer.pattern.level import computed_level

    asked, hard = demand(pattern), computed_level(pattern)
    return {
        "name": pattern.name,
        "title": pattern.title,
        "about": pattern.about,
        "tags": list(pattern.tags),
        "level": pattern.level,
        "computed_level": hard.level,
        "level_grounds": {name: round(points, 2) for name, points in hard.grounds},
        "tempo": pattern.tempo,
        "meter": str(pattern.meter),
        "meters": [str(bar.meter) for bar in pattern.bars],
        "groups": [list(bar.meter.groups) for bar in pattern.bars],
        **feel_to_dict(pattern),
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
        "notes": [full_note(note) for note in pattern.notes],
    }


def ways_document(found: Sequence[WayState]) -> dict[str, Any]:
    """Return ways with their steps; `place` counts steps from 0, None at the end of a way."""
    return {
        "ways": [
            {
                "name": one.way.name,
                "title": one.way.title,
                "place": one.place,
                "steps": [
                    {
                        "pattern": state.step.pattern,
                        "tempo": state.step.tempo,
                        "back": state.step.back,
                        "clean_tempo": state.clean,
                        "sessions": state.sessions,
                        "passed": state.passed,
                        "stuck": state.stuck,
                    }
                    for state in one.steps
                ],
            }
            for one in found
        ]
    }


def recognised_document(found: Recognised) -> dict[str, Any]:
    """Return the patterns that a take fits; `agree` is 0 to 1, `names` sound alike."""
    return {
        "take": found.take.name,
        "sure": found.sure,
        "tried": found.tried,
        "guesses": [asdict(one) for one in found.guesses],
    }
