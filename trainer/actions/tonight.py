"""Tonight's practice: what the sessions, goals, ways and assignments say is worth playing.

Only what was played on the same kind of input counts, a kit or the computer keys, and never the
simulated player. What cannot be read, does not exist any more or does not fit the kit is passed
over and named. `trainer.practice.evening` has the rules.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Any

from trainer import settings
from trainer.actions.advice import DRILL, advice_on, drill_name, drill_text
from trainer.actions.history import counts_for
from trainer.actions.playing_on import kit_ahead
from trainer.actions.requests import COMPUTER_KEYS, PlayedOn
from trainer.actions.student_week import aim_results, assigned_for, weakness_of
from trainer.actions.ways import FIRST_WAY, states_among
from trainer.archive import ceilings, goals, routines
from trainer.archive.history import histories_by_pattern, monday_of
from trainer.archive.routines import RoutineProgressFile
from trainer.archive.session_list import KEYS, KIT, by_people, list_sessions
from trainer.errors import BadInput, TrainerError
from trainer.file_system import read_text, user_folder
from trainer.kit.model import GENERAL_MIDI
from trainer.measure.ceiling import SAFE, margin, needed_rate, pattern_rate, tempo_for_rate
from trainer.measure.forecast import forecast
from trainer.pattern import library
from trainer.pattern.smaller_kit import on_smaller_kit
from trainer.practice.evening import (
    ASSIGNED,
    DUE,
    GOAL,
    LATELY,
    STEP,
    WEAK,
    Candidate,
    first_tempo,
    gap_days,
    lay_out,
    renamed,
)
from trainer.practice.routine import FREE_PLAY, RoutineProgress
from trainer.toml_text import parse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date
    from pathlib import Path

    from trainer.archive.ceilings import Climb
    from trainer.archive.goals import Goal
    from trainer.archive.history import PatternHistory
    from trainer.archive.session_list import SessionEntry
    from trainer.kit.model import Kit
    from trainer.measure.ceiling import Ceiling
    from trainer.pattern.model import Pattern
    from trainer.practice.evening import Evening
    from trainer.practice.routine import Routine

USUAL_MINUTES, FIRST_MINUTES = 40.0, 15.0
"""How long an evening is unless the player says so, and the first one (our own choice)."""

FIRST_WAYS = (FIRST_WAY, "two-drums", "around-the-kit")
"""The ways a newcomer begins with."""

MOST_WAYS, MOST_OF_A_KIND = 3, 6
FINDINGS_DAYS, ASSIGNED_DAYS = 30.0, 14
"""After so many days a weakness was long ago, and an assignment is over, in days."""


@dataclass(frozen=True, slots=True)
class TonightRequest:
    """The folder of the sessions, what is played on, whose evening it is, and how long."""

    folder: Path
    port: str = ""
    player: str = ""
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Tonight:
    """An evening, and what is to be said about it.

    `first` is True where nothing was played yet on such an input, `elsewhere` where something was
    on another one. `passed_over` says why something was left out. `begun` is the file of an evening
    of today that was not finished.
    """

    evening: Evening
    first: bool = False
    elsewhere: bool = False
    passed_over: tuple[str, ...] = ()
    begun: Path | None = None


def plan_tonight(request: TonightRequest, now: datetime | None = None) -> Tonight:
    """Return the evening that the evidence suggests; raises BadInput for an odd length."""
    now = now or datetime.now().astimezone()
    port = request.port or settings.load().input
    listed = list_sessions(request.folder)
    people = by_people(listed.entries)
    kind = KEYS if port == COMPUTER_KEYS else KIT
    alike = [one for one in people if one.played_on == kind and one.started <= now]
    player = request.player or settings.load().player or (alike[-1].player if alike else "")
    own = tuple(one for one in alike if one.player.casefold() == player.casefold())
    known = _Evidence(own, now, player, passed_over=[str(fault) for fault in listed.faults])
    known.choose_kit(port)
    usual = USUAL_MINUTES if own else FIRST_MINUTES
    candidates = [one for one in known.candidates() if one]
    evening = lay_out(request.minutes or usual, candidates)
    elsewhere = not own and len(people) > len(alike)
    begun = _begun(now, people)
    return Tonight(evening, not own, elsewhere, tuple(dict.fromkeys(known.passed_over)), begun)


@dataclass
class _Evidence:
    """One player's sessions on one kind of input, the oldest first, and what follows from them."""

    entries: tuple[SessionEntry, ...]
    now: datetime
    player: str
    kit: Kit = GENERAL_MIDI
    passed_over: list[str] = field(default_factory=list)
    _ceilings: dict[str, Ceiling | None] = field(default_factory=dict)
    _patterns: dict[str, Pattern | None] = field(default_factory=dict)

    def choose_kit(self, port: str) -> None:
        """Take the kit that will be played on; one with faults is named."""
        try:
            self.kit = kit_ahead(PlayedOn(port))
        except BadInput as fault:
            self.passed_over.append(str(fault))

    @cached_property
    def climbs(self) -> dict[str, Climb]:
        """The ladders of each pattern, those of the conditions that were climbed last."""
        return {one.pattern: one for one in ceilings.climbs(self.entries)}

    @cached_property
    def histories(self) -> dict[str, PatternHistory]:
        """All sessions of each pattern, the one played last at the end; no open blocks."""
        found = histories_by_pattern(self.entries)
        return {one.name: one for one in found if one.name != FREE_PLAY}

    def _ceiling(self, pattern: str) -> Ceiling | None:
        """Return the ceiling of a pattern as of now, worked out once."""
        if pattern not in self._ceilings:
            climb = self.climbs.get(pattern)
            self._ceilings[pattern] = climb.ceiling(self.now) if climb else None
        return self._ceilings[pattern]

    def candidates(self) -> Iterator[Candidate | None]:
        """Yield all that is worth playing, of each reason the best first."""
        yield from self._assigned()
        yield from self._goals()
        yield from self._weak()
        yield from self._steps()
        yield from self._due()

    def _days(self, pattern: str) -> tuple[float | None, int]:
        """Return the days since a pattern was played (None: never), and on how many it was."""
        if pattern not in self.histories:
            return None, 0
        played = self.histories[pattern].entries
        days = {one.started.astimezone().date() for one in played}
        return (self.now - played[-1].started) / timedelta(days=1), len(days)

    def _pattern(self, name: str) -> Pattern | None:
        """Return a pattern, opened once; None for one that is gone or unfit, which is named."""
        if name not in self._patterns:
            self._patterns[name] = None
            try:
                pattern = library.load_pattern(name)
                on_smaller_kit(pattern, self.kit.without)
                self._patterns[name] = pattern
            except TrainerError as fault:
                self.passed_over.append(str(fault))
        return self._patterns[name]

    def _candidate(
        self, reason: str, name: str, need: float | None = None, opened: str = "", **more: Any
    ) -> Candidate | None:
        """Return a pattern as a candidate; `opened` is what it is read by, unless by its name."""
        pattern = self._pattern(opened or name)
        if pattern is None:
            return None
        days, practised = self._days(pattern.name)
        found = self._ceiling(pattern.name)
        begin, most = first_tempo(need if need and reason == STEP else pattern.tempo), None
        if found:
            ends, slowest = found.three_quarters, self.climbs[pattern.name].slowest_clean
            begin, most = first_tempo(begin, ends.tempo, ends.low, slowest, days), ends.tempo
        more |= {"need": need, "days": days, "practised": practised, "title": pattern.title}
        return Candidate(reason, name, begin, most, **more)

    def _assigned(self) -> Iterator[Candidate | None]:
        """Yield what a teacher assigned and is not reached, what was played longest ago first."""
        assignment = assigned_for([*_assignments(self.passed_over)], self.now.date())
        since = monday_of(self.now.date())
        if not assignment or not assignment.week or (since - assignment.week).days > ASSIGNED_DAYS:
            return
        found, blocks = [], routines.blocks_by_pattern(assignment)
        for aim in aim_results(assignment, self.entries):
            history = self.histories.get(aim.pattern)
            this_week = history and history.entries[-1].started.astimezone().date() >= since
            if aim.reached or (aim.aim is None and this_week):
                continue
            block = blocks[aim.pattern]
            one = self._candidate(ASSIGNED, block.pattern, aim.aim, block.opened, settled=block)
            if one:
                begin = block.start or block.tempo or one.begin
                found.append(replace(one, begin=begin))
        yield from sorted(found, key=lambda one: -(one.days or float("inf")))

    def _goals(self) -> Iterator[Candidate | None]:
        """Yield the pattern that limits each goal, the goal furthest from safe first."""
        try:
            known = goals.load()
        except BadInput as fault:
            self.passed_over.append(str(fault))
            return
        found = [one for one in map(self._goal, known) if one]
        yield from sorted(found, key=lambda one: -1.0 if one.margin is None else one.margin)

    def _goal(self, goal: Goal) -> Candidate | None:
        """Return the pattern to practise for a goal; None where it is safe, or has none."""
        asked = needed_rate(goal.tempo, goal.value)
        name = goal.pattern or self._fastest(goal)
        own = name and counts_for(goal, self.player, name)
        pattern = self._pattern(name) if own else None
        if pattern is None:
            return None
        ceiling = self._ceiling(pattern.name)
        over = margin(asked, pattern, ceiling) if ceiling else None
        if over and over.standing == SAFE:
            return None
        need = tempo_for_rate(pattern, asked)
        share = over.margin if over else None
        earliest = self._earliest(pattern.name, need) if need else None
        return self._candidate(GOAL, name, need, about=goal.name, margin=share, earliest=earliest)

    def _earliest(self, pattern: str, tempo: float) -> date | None:
        """Return the first day on which a pattern may be at a tempo, None where that is open."""
        climb = self.climbs.get(pattern)
        found = forecast(climb.own_ceilings(self.now)) if climb else ""
        days = None if isinstance(found, str) else found.window(tempo)[0]
        return None if days is None else self.now.date() + timedelta(days=days)

    def _fastest(self, goal: Goal) -> str:
        """Return the pattern whose fastest clean rung has most strokes a second; may be empty."""
        rates = {}
        for climb in self.climbs.values():
            clean = [t for one in climb.entries for t, is_clean in one.rungs if is_clean]
            if clean and counts_for(goal, climb.player, climb.pattern):
                pattern = self._pattern(climb.pattern)
                rates[climb.pattern] = (pattern and pattern_rate(pattern, max(clean))) or 0.0
        return max(rates, key=lambda name: rates[name], default="")

    def _weak(self) -> Iterator[Candidate | None]:
        """Yield a drill for what was weakest lately; a drill has none of its own."""
        since = self.now - timedelta(days=FINDINGS_DAYS)
        recent = [one for one in self.entries if one.started >= since]
        weak = weakness_of([one for one in recent if not one.pattern.startswith(DRILL)])
        if weak.finding is None or weak.newest is None:
            return
        name = drill_name(weak.finding)
        if library.is_name_taken(name):
            yield self._candidate(WEAK, name, finding=weak.finding)
            return
        try:
            advice = advice_on(weak.newest.path)
            text = drill_text(weak.finding, advice.session, advice.summary)
        except (TrainerError, OSError) as fault:
            self.passed_over.append(str(fault))
            return
        begin = first_tempo(float(parse(text).get("tempo", 0.0)))
        yield Candidate(WEAK, name, begin, finding=weak.finding, text=text)

    def _steps(self) -> Iterator[Candidate | None]:
        """Yield the next step of the ways that were practised last, then of the first ways."""
        found = states_among(self.entries)
        self.passed_over += map(str, found.faults)
        begun = [one for one in found.ways if any(step.sessions for step in one.steps)]
        first = [one for name in FIRST_WAYS for one in found.ways if one.way.name == name]
        others = [one for one in (*first, *found.ways) if one not in begun]
        going = [one for one in (*begun, *dict.fromkeys(others)) if one.here]
        for state in going[:MOST_WAYS]:
            here = state.here
            assert here
            back = here.stuck and bool(here.step.back)
            more: dict[str, Any] = {
                "about": state.way.title,
                "step": (state.place or 0) + 1,
                "back": back,
            }
            name, need = (here.step.back, None) if back else (here.step.pattern, here.step.tempo)
            yield self._candidate(STEP, name, need, **more)

    def _due(self) -> Iterator[Candidate | None]:
        """Yield what is due again, the most overdue first, then what was practised lately."""
        rows = []
        for name in self.histories:
            days, practised = self._days(name)
            rows.append(((days or 0.0) / gap_days(practised), name))
        counts: Counter[str] = Counter()
        for share, name in sorted(rows, reverse=True):
            reason = DUE if share >= 1 else LATELY
            counts[reason] += 1
            if counts[reason] <= MOST_OF_A_KIND:
                yield self._candidate(reason, name)


def _assignments(passed_over: list[str]) -> Iterator[Routine]:
    """Yield the player's routines that are assignments; those that cannot be read are named."""
    for path in routines.known_routines():
        try:
            # Most routines are none: their patterns need not be looked for.
            if "week" in read_text(path, routines.LARGEST_ROUTINE):
                yield routines.load_routine(path)
        except TrainerError as fault:
            passed_over.append(str(fault))


def _begun(now: datetime, entries: tuple[SessionEntry, ...]) -> Path | None:
    """Return the newest evening of a day that was begun and not finished."""
    for path in sorted(_evenings().glob(f"{now.date()}*{routines.ROUTINE_ENDING}"), reverse=True):
        try:
            progress = RoutineProgressFile(path, routines.load_routine(path)).progress(entries)
        except TrainerError:
            continue
        if progress != RoutineProgress():
            return path
    return None


def _evenings() -> Path:
    return user_folder("evenings")


def keep_evening(evening: Evening, now: datetime | None = None) -> Path:
    """Write an evening that is to be played now, and the drills in it; return its file."""
    now = now or datetime.now().astimezone()
    path = _evenings() / f"{now.date()}{routines.ROUTINE_ENDING}"
    return _save(path, evening, f"Evening of {now.day} {now:%b}")


def save_evening(evening: Evening, name: str) -> Path:
    """Write an evening as a routine of a name, and the drills in it; raises BadInput."""
    routines.check_routine_name(name)
    path = user_folder("routines") / f"{name}{routines.ROUTINE_ENDING}"
    return _save(path, evening, name)


def _save(path: Path, evening: Evening, title: str) -> Path:
    drills = {one.candidate.pattern: one.candidate.text for one in evening.blocks if one.candidate}
    for name, text in drills.items():
        if text:
            evening = renamed(evening, name, library.save_beside(name, text))
    return routines.save_routine(path, evening.routine(title))
