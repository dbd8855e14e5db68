"""Turns a request into a session that is ready to be played: its job, with nothing opened yet."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any

from trainer import settings
from trainer.actions.choices import led_by
from trainer.actions.job import check_count_in, check_passes, make_job, tolerance_of
from trainer.actions.playing_on import find_kit, kit_ahead, make_source
from trainer.actions.requests import DemoRequest, LadderRequest, PlayRequest, course_of
from trainer.archive import ceilings
from trainer.archive.recovery import recover
from trainer.archive.session_list import (
    RungConditions,
    input_words,
    list_sessions,
    strictness_words,
)
from trainer.errors import BadInput
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.clean import rung_verdict
from trainer.midi.click import SilentClick
from trainer.pattern.library import load_pattern
from trainer.pattern.model import MAX_TEMPO, MIN_TEMPO
from trainer.pattern.smaller_kit import on_smaller_kit
from trainer.practice.ceiling_search import KnownCeiling
from trainer.practice.course import check_tempo, pattern_seconds
from trainer.practice.ladder import Ladder, chosen_rule
from trainer.practice.ladder_plan import LadderPlan, LadderTimes
from trainer.practice.plan import FollowPlan, SteadyPlan

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from trainer.actions.playing_on import Waiting
    from trainer.actions.requests import SessionRequest, Setup
    from trainer.archive.recovery import Recovery
    from trainer.engine.job import Job
    from trainer.kit.model import Kit
    from trainer.measure.ceiling import Ceiling
    from trainer.midi.hit_source import HitSource
    from trainer.pattern.model import Pattern
    from trainer.practice.plan import TempoPlan

FAST_PASSES = 4
"""Passes played in simulated time without a number of them: nobody would ever get to stop it."""

DEMO_S = 60.0


@dataclass(frozen=True, slots=True)
class Practice:
    """A session ready to be played.

    `tempo` (BPM) is that of its first pass, `passes` how many there are (None: no set end).
    `ceiling` is the player's so far, where a ladder begins below it. `instead` has the drums that
    the kit lacks, with those that are played in their place.
    """

    job: Job
    tempo: float
    passes: int | None = None
    ceiling: Ceiling | None = None
    instead: Mapping[str, str] = field(default_factory=dict)


def prepare(request: SessionRequest, waiting: Waiting | None = None) -> Practice:
    """Return the session of a request.

    With `waiting` a kit that is not there yet is waited for. Raises BadInput.
    """
    match request:
        case PlayRequest():
            return _prepare_play(request, waiting)
        case DemoRequest():
            return _prepare_demo(request)
        case LadderRequest():
            return _prepare_ladder(request, waiting)


def finish_cut_off(folder: Path) -> list[Recovery]:
    """Finish the sessions of a folder that a crash cut off, and return what was found."""
    return recover(folder) if folder.is_dir() else []


def _prepare_play(request: PlayRequest, waiting: Waiting | None) -> Practice:
    setup, name = request.setup, led_by(request.pattern, settings.load().lead)
    pattern = load_pattern(name, kit_ahead(setup.played_on))
    tempo = check_tempo(pattern.tempo if request.tempo is None else request.tempo)
    passes = check_passes(request.passes, FAST_PASSES if setup.played_on.fast else None)
    if request.minutes is not None:
        passes = passes_in(request.minutes, pattern, tempo)
    count_in = check_count_in(setup)
    setup, kit, source = _instrument(setup, waiting)
    pattern, instead = on_smaller_kit(load_pattern(name, kit), kit.without, kit.choked)
    plan: TempoPlan = SteadyPlan(tempo, passes, count_in)
    if request.follow:
        from trainer.midi.midi_clock import FollowingSource

        led = FollowingSource(source, request.follow)
        source, plan = led, FollowPlan(pattern, led.follower, tempo, passes, count_in)
    job = make_job(setup, pattern, kit, plan, source, course_of(request))
    return Practice(job, tempo, passes, instead=instead)


MOST_MINUTES = 24 * 60


def passes_in(minutes: float, pattern: Pattern, tempo: float) -> int:
    """Return how many whole passes some minutes hold, one at least; raises BadInput."""
    if not 0 < minutes <= MOST_MINUTES:
        raise BadInput(
            f"{minutes:g} is not a number of minutes to practise",
            where="minutes",
            fix=f"choose more than 0 and at most {MOST_MINUTES}",
        )
    return max(1, int(minutes * 60 / pattern_seconds(pattern, tempo)))


def _prepare_demo(request: DemoRequest) -> Practice:
    pattern = load_pattern(request.pattern, kit_ahead(request.setup.played_on))
    pattern, _ = on_smaller_kit(pattern, (), GENERAL_MIDI.choked)
    tempo = check_tempo(pattern.tempo if request.tempo is None else request.tempo)
    pass_s = pattern_seconds(pattern, tempo)
    passes = check_passes(request.passes, max(1, round(DEMO_S / pass_s)))
    plan = SteadyPlan(tempo, passes, check_count_in(request.setup))
    # The demo is the same for everybody: no kit or click of the player's own.
    source = make_source(request.setup.played_on, GENERAL_MIDI)
    job = make_job(
        request.setup, pattern, GENERAL_MIDI, plan, source, course_of(request), SilentClick()
    )
    return Practice(job, tempo, passes)


def _prepare_ladder(request: LadderRequest, waiting: Waiting | None) -> Practice:
    name = led_by(request.pattern, settings.load().lead)
    load_pattern(name, kit_ahead(request.setup.played_on))  # so that no kit is waited for in vain
    passes = check_passes(request.passes, None)
    top = MAX_TEMPO if request.top is None else check_tempo(request.top)
    rule, step = chosen_rule(request.rule, request.step)
    times = _ladder_times(request)
    setup, kit, source = _instrument(request.setup, waiting)
    pattern, instead = on_smaller_kit(load_pattern(name, kit), kit.without, kit.choked)
    climb = _comparable_climb(request, pattern, source)
    ceiling = climb.ceiling(datetime.now().astimezone()) if climb else None
    start = _ladder_start(request, pattern, top, climb, ceiling)
    ladder = Ladder(start, step, top, rule=rule, clean_to_rise=request.clean_to_rise)
    ladder = replace(ladder, known=_known(ceiling))
    judge = partial(rung_verdict, allowed=tolerance_of(setup))
    plan = LadderPlan(pattern, ladder, judge, passes, times)
    course = course_of(replace(request, rule=rule, step=step))
    job = make_job(setup, pattern, kit, plan, source, course)
    return Practice(job, start, None, ceiling if request.start is None else None, instead)


def _comparable_climb(
    request: LadderRequest, pattern: Pattern, source: HitSource
) -> ceilings.Climb | None:
    """Return the player's climb of a pattern on the same input, as strict and as long a rung."""
    setup = request.setup
    entries = list_sessions(settings.recordings_folder(setup.recordings)).entries
    player = setup.player or settings.load().player
    strictness = strictness_words(tolerance_of(setup).to_dict())
    conditions = RungConditions(strictness, request.passes or 0, input_words(source.name))
    return ceilings.climb_of(entries, player, pattern.name, conditions)


def _ladder_start(
    request: LadderRequest,
    pattern: Pattern,
    top: float,
    climb: ceilings.Climb | None,
    ceiling: Ceiling | None,
) -> float:
    """Return where a ladder begins: as chosen, else below the ceiling, else at its own tempo."""
    if request.start is not None:
        return request.start
    if climb is None or ceiling is None:
        return min(pattern.tempo, top)
    return min(max(MIN_TEMPO, ceilings.ladder_start(ceiling, climb.slowest_clean)), top)


def _known(ceiling: Ceiling | None) -> KnownCeiling | None:
    if ceiling is None:
        return None
    half = ceiling.half
    low, high = (None if half.open_below else half.low), (None if half.open_above else half.high)
    return KnownCeiling(low, high)


def job_by(
    setup: Setup, pattern: Pattern, plan: TempoPlan, course: dict[str, Any], waiting: Waiting | None
) -> Job:
    """Return the job of a pattern played by a plan, on what the setup says."""
    setup, kit, source = _instrument(setup, waiting)
    pattern, _ = on_smaller_kit(pattern, kit.without, kit.choked)
    return make_job(setup, pattern, kit, plan, source, course)


def _ladder_times(request: LadderRequest) -> LadderTimes:
    if not 0 < request.rest <= 60:
        raise BadInput(
            f"a break of {request.rest:g} minutes is out of range",
            where="--rest",
            fix="choose more than 0 and at most 60",
        )
    count_in = check_count_in(request.setup)
    return LadderTimes(request.minutes, request.rest_every, request.rest * 60, count_in)


def _instrument(setup: Setup, waiting: Waiting | None) -> tuple[Setup, Kit, HitSource]:
    """Return the setup with the port's full name, the kit, and the source of hits."""
    played_on, kit = find_kit(setup.played_on, waiting)
    return replace(setup, played_on=played_on), kit, make_source(played_on, kit)
