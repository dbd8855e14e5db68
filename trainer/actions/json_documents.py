"""The JSON documents that `--json` promises, in one place: keys may be added, never renamed.

Of a take: beats are exact fractions as text, counted in quarter notes from the start of the
pattern; times are seconds on the session's (or file's) clock with the latency taken out; offsets
are milliseconds, minus is early. Indexes count from 0; `hit` and `target` are indexes or null.
Tempos are in BPM; an open end of an interval is null.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from trainer.actions.advice import Advice
    from trainer.actions.assess import AssessedTake
    from trainer.actions.comparison import Comparison
    from trainer.actions.history import GoalMargins
    from trainer.actions.replay import OpenedSession
    from trainer.actions.timing import TimingFigures
    from trainer.actions.tonight import Tonight
    from trainer.archive.ceilings import Climb, LadderResult
    from trainer.archive.history import PatternHistory
    from trainer.archive.session_list import SessionEntry
    from trainer.kit.hits import Hit
    from trainer.measure.ceiling import TempoEstimate
    from trainer.midi.port_names import Port
    from trainer.midi.ports import System
    from trainer.practice.course import Target
    from trainer.practice.evening import Candidate
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
        "clean": summary["clean"],
        "summary": summary,
        **more,
    }


def _target(judged: Judged, target: Target) -> dict[str, Any]:
    offset = judged.offset_s(target.index)
    limb = target.note.written_limb
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


def session_document(opened: OpenedSession) -> dict[str, Any]:
    """Return a saved session: its take, who played when, and what the file itself says."""
    from trainer.archive.summary import summary_differences

    session, header, saved = opened.session, opened.session.header, opened.session.summary
    return take_document(
        opened.take,
        opened.summary,
        session=opened.path.name,
        started=header.started.isoformat(),
        player=header.player,
        kit=header.kit.name,
        software=header.software,
        finished=saved is not None,
        recovered=session.recovered,
        differs=sorted(summary_differences(saved, opened.summary)) if saved else [],
        passes=[
            {"index": one.index, "tempo": one.tempo, "start_s": one.start_s, "rung": one.rung}
            for one in session.passes
        ],
        rungs=[asdict(rung) for rung in session.rungs],
        marks=[asdict(mark) for mark in session.marks],
    )


def assessed_document(one: AssessedTake) -> dict[str, Any]:
    """Return a recorded take, with where its pattern was found and how sure that is."""
    found, first = one.found, one.found.course.passes[0]
    return take_document(
        one.judged,
        one.summary,
        tempo=first.tempo,
        start_s=first.start_s,
        fit=found.fit,
        agree=found.agree,
        tempo_from=found.tempo_from,
        start_from=found.start_from,
        played_tempo=found.played_tempo,
        swing_ms=found.swing_s * 1000,
        breaks=[asdict(one) for one in found.breaks],
        written_tempo=one.take.tempo,
        fills=list(one.fills),
        remarks=list(one.take.remarks),
    )


def comparison_document(one: Comparison) -> dict[str, Any]:
    """Return two sessions and every number they have in common."""
    from trainer.measure.figure import plain_values

    changes = [plain_values(change) for change in one.changes]
    return {"pattern": one.pattern, "sessions": list(one.names), "changes": changes}


def advice_document(one: Advice, drills: Sequence[str]) -> dict[str, Any]:
    """Return the advice on a session with the names of the drills that were saved."""
    return {"session": one.path.name, "advice": one.summary["advice"], "drills": list(drills)}


def history_document(
    entries: Sequence[SessionEntry], ceilings: Sequence[Any] = ()
) -> dict[str, Any]:
    """Return sessions (the oldest first) and ceilings, and trends beside."""
    from trainer.archive.history import histories_by_pattern

    return {
        "sessions": [_session(entry) for entry in entries],
        "ceilings": list(ceilings),
        "patterns": [_pattern(one) for one in histories_by_pattern(entries)],
    }


def _pattern(one: PatternHistory) -> dict[str, Any]:
    from trainer.archive.history import histories_by_player

    players = [
        {"player": own.entries[-1].player, "trends": _trends(own)}
        for _, own in histories_by_player(one)
    ]
    return {
        "pattern": one.name,
        "title": one.title,
        "sessions": len(one.entries),
        "seconds": one.seconds,
        "trends": players[0]["trends"] if len(players) == 1 else [],
        "players": players,
    }


def _trends(history: PatternHistory) -> list[dict[str, Any]]:
    return [
        {"name": one.name, "first": one.first, "last": one.last, "count": one.count}
        for one in history.trends()
    ]


def _session(entry: SessionEntry) -> dict[str, Any]:
    low, high = entry.tempos or (None, None)
    return {
        "session": entry.path.name,
        "started": entry.started.isoformat(),
        "player": entry.player,
        "pattern": entry.pattern,
        "title": entry.title,
        "finished": entry.finished,
        "seconds": entry.seconds,
        "passes": entry.passes,
        "strikes": entry.strikes,
        "tempo_low": low,
        "tempo_high": high,
        "rungs": [{"tempo": tempo, "clean": clean} for tempo, clean in entry.rungs],
        **entry.figures,
    }


def ceilings_document(found: Sequence[Climb], now: datetime) -> list[dict[str, Any]]:
    """Return ceilings for JSON; an open end of an interval is null."""
    rows = []
    for climb in found:
        one = climb.ceiling(now)
        if one is None:
            continue
        rows.append(
            {
                "player": climb.player,
                "pattern": climb.pattern,
                "title": climb.title,
                "conditions": asdict(climb.conditions),
                "rungs": one.rungs,
                "half": estimate_document(one.half),
                "three_quarters": estimate_document(one.three_quarters),
                "curve": [
                    {"date": when.isoformat(), **estimate_document(then.half)}
                    for when, then in climb.curve()
                ],
            }
        )
    return rows


def estimate_document(one: TempoEstimate) -> dict[str, float | None]:
    """Return one tempo with its interval for JSON; an open end is None."""
    return {
        "tempo": one.tempo,
        "low": None if one.open_below else one.low,
        "high": None if one.open_above else one.high,
    }


def ladder_document(one: LadderResult) -> dict[str, Any]:
    """Return a ladder for JSON; tempos in BPM, an open end of an interval is null."""
    from trainer.measure.figure import plain_values

    return {
        "rungs": [plain_values(rung) for rung in one.rungs],
        "ceiling_before": estimate_document(one.before.half) if one.before else None,
        "ceiling_after": estimate_document(one.after.half) if one.after else None,
        "hands": plain_values(one.limbs) if one.limbs else None,
        "length": plain_values(one.length) if one.length else None,
    }


def goals_document(rows: Sequence[GoalMargins]) -> dict[str, Any]:
    """Return the goals, each with its margins, the widest first."""
    from trainer.measure.figure import plain_values

    return {
        "goals": [
            {
                **asdict(one.goal),
                "asked": one.asked,
                "margins": [
                    {
                        "player": climb.player,
                        "pattern": climb.pattern,
                        "conditions": asdict(climb.conditions),
                        **plain_values(margin),
                        "reached": [day and str(day) for day in (window.first, window.last)],
                        "not_dated": window.why,
                        "week_off": plain_values(window.week_off),
                    }
                    for (climb, margin), window in zip(one.margins, one.windows, strict=True)
                ],
            }
            for one in rows
        ]
    }


def tonight_document(found: Tonight) -> dict[str, Any]:
    """Return an evening: its blocks in order, what else is worth playing, what was left out.

    Of a candidate `days` have passed since it was played (null: never); tempos are in BPM.
    """
    return {
        "minutes": found.evening.minutes,
        "first": found.first,
        "blocks": [
            {
                "kind": one.block.kind,
                "minutes": one.block.minutes,
                "pattern": one.block.pattern,
                "begin": one.begin,
                "why": _candidate(one.candidate),
            }
            for one in found.evening.blocks
        ],
        "spare": [_candidate(one) for one in found.evening.spare],
        "passed_over": list(found.passed_over),
        "begun": found.begun and str(found.begun),
    }


def _candidate(one: Candidate | None) -> dict[str, Any] | None:
    if one is None:
        return None
    keys = ("reason", "pattern", "begin", "most", "about", "margin", "need", "days", "practised")
    more = {"finding": dict(one.finding) or None, "earliest": one.earliest and str(one.earliest)}
    return {key: getattr(one, key) for key in keys} | more


def ports_document(system: System) -> dict[str, Any]:
    """Return the MIDI inputs and outputs that are connected."""
    return {
        "api": system.api,
        "systems": list(system.apis),
        "refused": list(system.refused),
        "inputs": _ports(system.inputs),
        "outputs": _ports(system.outputs),
    }


def _ports(found: Sequence[Port]) -> list[dict[str, object]]:
    return [
        {
            "name": port.label,
            "driver_name": port.name,
            "position": port.position,
            "system": port.api,
            "loop": port.is_loop,
        }
        for port in found
    ]


def timing_document(one: TimingFigures) -> dict[str, Any]:
    """Return how far times can be trusted; `no_loop` says why there is no loop."""
    return {
        "wakes_late": one.wakes_late.to_dict(),
        "loop": one.loop.to_dict() if one.loop else None,
        "no_loop": one.no_loop,
        "terminal": one.terminal.to_dict() if one.terminal else None,
        "trusted_ms": one.trusted_ms,
    }
