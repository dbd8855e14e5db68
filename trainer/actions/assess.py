"""Checking a take that was recorded elsewhere: where its pattern is, and every outcome.

A take can also be read as a session, so that it is gone through and compared like one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer import settings
from trainer.actions.job import tolerance_of
from trainer.actions.requests import Setup
from trainer.errors import BadInput
from trainer.kit import kits
from trainer.kit.model import GENERAL_MIDI
from trainer.pattern.smaller_kit import on_smaller_kit

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from trainer.archive.session import Session
    from trainer.kit.hits import Strike
    from trainer.kit.model import Kit
    from trainer.midi.take_file import Take
    from trainer.practice.align import Alignment
    from trainer.practice.outcomes import Judged


@dataclass(frozen=True, slots=True)
class AssessRequest:
    """A recorded take, what was played in it, and how it is read.

    A pattern that is a MIDI file is read through the same kit.

    `tempo` is in BPM, None for the one found; `trust_file` is False where the file's own tempo is
    not looked at. `start_s` is when the first beat falls, None for the one found. `kit` is a name
    or file (None: the kit set, else General MIDI), `latency_ms` how late that kit is.
    """

    path: Path
    pattern: str | None
    tempo: float | None = None
    trust_file: bool = True
    start_s: float | None = None
    kit: str | None = None
    latency_ms: float | None = None


@dataclass(frozen=True, slots=True)
class PlacedTake:
    """A take, the kit it is read through, and where the pattern is in it."""

    take: Take
    kit: Kit
    found: Alignment


@dataclass(frozen=True, slots=True)
class AssessedTake:
    """A take with every outcome and its reading; `trusted_file` as in the request.

    `fills` are the passes, by their place in the course, where something else than the groove was
    played: they are in no figure of the reading.
    """

    take: Take
    found: Alignment
    judged: Judged
    summary: dict[str, Any]
    trusted_file: bool
    fills: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Groove:
    """What figures of a take are from: its passes and strikes without fills, and those apart."""

    judged: Judged
    strikes: tuple[Strike, ...]
    apart: tuple[Strike, ...]
    fills: tuple[int, ...]


def assess_take(
    request: AssessRequest, report: Callable[[str, int], object] = lambda step, strokes: None
) -> AssessedTake:
    """Return every outcome of a take; raises BadInput where its pattern is not found in it.

    `report` gets each step (place, judge, measure) as it begins, and how many strokes it is for.
    """
    from trainer.measure.reading import read_take
    from trainer.practice.matcher import judge

    placed = place_take(request, report)
    report("judge", len(placed.take.strikes))
    judged = judge(placed.found.course, placed.take.strikes, placed.kit)
    groove = groove_of(judged, placed)
    fitted = placed.found.start_from == "played"
    report("measure", len(groove.strikes))
    allowed = tolerance_of(Setup())
    summary = read_take(groove.judged, start_fitted=fitted, allowed=allowed).to_dict()
    take, found = placed.take, placed.found
    return AssessedTake(take, found, judged, summary, request.trust_file, groove.fills)


def groove_of(judged: Judged, placed: PlacedTake) -> Groove:
    """Return a judged take without the passes where fills were played; mostly there are none."""
    from trainer.practice.matcher import judge
    from trainer.practice.passes_played import filled_passes, without_passes

    fills = filled_passes(judged)
    if not fills:
        return Groove(judged, placed.take.strikes, (), ())
    course, own, others = without_passes(judged, fills, placed.take.strikes)
    return Groove(judge(course, own, placed.kit), tuple(own), tuple(others), fills)


def place_take(
    request: AssessRequest, report: Callable[[str, int], object] = lambda step, strokes: None
) -> PlacedTake:
    """Return where the pattern is in a take; raises BadInput that names the take."""
    from trainer.midi import take_file
    from trainer.pattern.library import load_pattern
    from trainer.practice.align import align
    from trainer.practice.matcher import read_hits

    if request.pattern is None:
        raise BadInput("a take needs its pattern", fix="say which one with --pattern")
    kit = kit_of_take(request.kit, request.latency_ms)
    take = take_file.read_take(request.path)
    kit = _with_chokes(kit, take)
    pattern, lacking = on_smaller_kit(load_pattern(request.pattern, kit), (), kit.choked)
    if lacking:
        take = replace(take, remarks=(*take.remarks, "no choke is sent: chokes are not judged"))
    if any(note.choke for note in pattern.notes):
        strikes = sorted((*take.strikes, *take.chokes), key=lambda one: one.time_s)
        take = replace(take, strikes=tuple(strikes))
    report("place", len(take.strikes))
    try:
        found = align(
            pattern,
            read_hits(pattern, take.strikes, kit),
            tempo=request.tempo,
            start_s=request.start_s,
            written=take.tempo if request.trust_file else None,
            written_for_all=len({round(bpm, 3) for _, bpm in take.tempos}) <= 1,
        )
    except BadInput as error:
        error.at(request.path.name)
        raise
    return PlacedTake(take, kit, found)


def _with_chokes(kit: Kit, take: Take) -> Kit:
    """Return the kit of a take, which sends the chokes that are in it."""
    notes = {*kit.controllers.chokes, *(choke.note for choke in take.chokes)}
    return replace(kit, controllers=replace(kit.controllers, chokes=tuple(sorted(notes))))


def kit_of_take(name: str | None, latency_ms: float | None) -> Kit:
    """Return the kit of a name, else the one set, else General MIDI, with its latency in ms."""
    named = name or settings.load().kit
    return kits.with_latency(kits.load(named) if named else GENERAL_MIDI, latency_ms)


def take_as_session(request: AssessRequest) -> Session:
    """Return a take as a session of its file's date, with the passes that were found in it.

    Passes with fills are left out, their strokes are idle.

    Nothing is saved. Raises BadInput as `place_take` does.
    """
    from trainer.archive.session import START_FITTED, Session, SessionHeader
    from trainer.practice.matcher import judge

    placed = place_take(request)
    recorded = datetime.fromtimestamp(request.path.stat().st_mtime).astimezone()
    groove = groove_of(judge(placed.found.course, placed.take.strikes, placed.kit), placed)
    header = SessionHeader(
        placed.found.course.pattern,
        recorded,
        kit=placed.kit,
        source=placed.take.name,
        tolerance=tolerance_of(Setup()).to_dict(),
        timing={START_FITTED: True} if placed.found.start_from == "played" else {},
    )
    passes = groove.judged.course.passes
    return Session(header, passes, groove.strikes, idle=groove.apart, summary={})
