"""A judged take as the JSON document that `score --json` and `replay --json` promise.

Beats are exact fractions as text, counted in quarter notes from the start of the pattern; times are
seconds on the session's (or file's) clock with the latency taken out; offsets are milliseconds,
minus is early. Indexes count from 0; `hit` and `target` are indexes or null.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.kit.hits import Hit
    from trainer.practice.course import Target
    from trainer.practice.outcomes import Judged


def take_document(
    judged: Judged,
    summary: dict[str, Any],
    *,
    tempo: float | None = None,
    start_s: float | None = None,
    **more: Any,
) -> dict[str, Any]:
    """Return the whole document; keys given in `more` are added after the promised ones.

    Tempo (BPM) and start default to those of the first pass, null where there is none.
    """
    passes = judged.course.passes
    return {
        "pattern": judged.course.pattern.name,
        "tempo": tempo if tempo is not None or not passes else passes[0].tempo,
        "start_s": start_s if start_s is not None or not passes else passes[0].start_s,
        "targets": [_target(judged, target) for target in judged.targets],
        "hits": [_hit(judged, hit) for hit in judged.hits],
        "summary": summary,
        **more,
    }


def _target(judged: Judged, target: Target) -> dict[str, Any]:
    offset = judged.offset_s(target.index)
    limb = target.note.limb
    return {
        "index": target.index,
        "pass": target.pass_index,
        "beat": str(target.note.beat),
        "time_s": target.time_s,
        "voice": target.note.voice,
        "limb": limb.value if limb else None,
        "outcome": judged.target_outcome[target.index],
        "hit": judged.target_hit[target.index],
        "offset_ms": None if offset is None else offset * 1000,
    }


def _hit(judged: Judged, hit: Hit) -> dict[str, Any]:
    return {
        "index": hit.index,
        "time_s": hit.time_s,
        "note": hit.note,
        "velocity": hit.velocity,
        "voice": hit.voice,
        "outcome": judged.hit_outcome[hit.index],
        "target": judged.hit_target[hit.index],
    }
