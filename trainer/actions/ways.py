"""Where a player is on each way through the patterns, from the saved sessions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.archive.session_list import by_people, list_sessions
from trainer.checked import nearest
from trainer.errors import BadInput, TrainerError
from trainer.pattern import ways
from trainer.pattern.library import load_pattern

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from trainer.archive.session_list import SessionEntry
    from trainer.pattern.ways import Step, Way

COUNTS_AT = ("solid", "tight")
"""How strictly a tempo must be clean to pass a step."""

FIRST_WAY = "hands-alone"
"""Where a player begins who has played nothing yet: one drum, single strokes."""

STUCK_AFTER = 4
"""Sessions in a row without a faster clean tempo, after which the way back is offered. Ours."""


@dataclass(frozen=True, slots=True)
class StepState:
    """A step and the fastest clean tempo of its pattern so far (BPM, None: nothing clean).

    `stuck` is True where the last `STUCK_AFTER` sessions brought no faster clean tempo.
    """

    step: Step
    clean: float | None
    sessions: int
    stuck: bool

    @property
    def passed(self) -> bool:
        """Whether it is clean at the tempo of the step."""
        return self.clean is not None and self.clean >= self.step.tempo


@dataclass(frozen=True, slots=True)
class WayState:
    """A way with the state of each step; `place` is the step to practise, None at the end."""

    way: Way
    steps: tuple[StepState, ...]

    @property
    def place(self) -> int | None:
        """The step after the furthest one that was passed; whoever is ahead is not sent back."""
        passed = [place for place, one in enumerate(self.steps) if one.passed]
        following = passed[-1] + 1 if passed else 0
        return following if following < len(self.steps) else None

    @property
    def here(self) -> StepState | None:
        """The step to practise, None at the end."""
        return None if self.place is None else self.steps[self.place]


@dataclass(frozen=True, slots=True)
class WaysFound:
    """The ways with their states, the one practised last first, and files with faults."""

    ways: tuple[WayState, ...]
    faults: tuple[BadInput, ...]


def states_of_ways(folder: Path) -> WaysFound:
    """Return where the player of a folder is on every way."""
    return states_among(by_people(list_sessions(folder).entries))


def states_among(entries: Sequence[SessionEntry]) -> WaysFound:
    """Return where the player of some sessions, the oldest first, is on every way."""
    known, faults = ways.known_ways()
    latest = {
        name: place for place, entry in enumerate(entries) for name in ways.counts_as(entry.pattern)
    }
    found = [state_of_way(one, entries) for one in known]
    found.sort(key=lambda one: -max(latest.get(step.pattern, -1) for step in one.way.steps))
    return WaysFound(tuple(found), tuple(faults))


def way_practised_last(entries: Sequence[SessionEntry]) -> WayState | None:
    """Return the way on which the last session was that is on any; None where none is."""
    known = {step.pattern: way for way in ways.known_ways()[0] for step in way.steps}
    found = (
        known[name]
        for one in reversed(entries)
        for name in ways.counts_as(one.pattern)
        if one.played and name in known
    )
    last = next(found, None)
    return state_of_way(last, entries) if last else None


def first_pattern() -> str:
    """Return the pattern to begin with: the first step of the hands alone, else of any way."""
    known = ways.known_ways()[0]
    way = next((one for one in known if one.name == FIRST_WAY), known[0] if known else None)
    return way.steps[0].pattern if way else ""


def state_of_way(way: Way, entries: Sequence[SessionEntry]) -> WayState:
    """Return where the player of some sessions, the oldest first, is on one way."""
    wanted = {step.pattern for step in way.steps}
    played: dict[str, list[SessionEntry]] = {}
    for entry in entries:
        for name in ways.counts_as(entry.pattern):
            if entry.played and name in wanted:
                played.setdefault(name, []).append(entry)
    return WayState(way, tuple(_state(step, played) for step in way.steps))


def find_way(folder: Path, name: str) -> WayState:
    """Return the way of a name or a part of its title; raises BadInput."""
    found = states_of_ways(folder).ways
    wanted = name.casefold()
    for one in found:
        if one.way.name == name:
            return one
    fitting = [one for one in found if wanted in one.way.title.casefold()]
    if len(fitting) == 1:
        return fitting[0]
    raise BadInput(
        f'there is no way "{name[:60]}"', fix=nearest(name, [one.way.name for one in found])
    )


def rate_of(step: Step) -> float | None:
    """Return the fastest hand strokes a second of a step at its tempo, None without hands."""
    # Home looks for the next step and needs no rate, so no NumPy.
    from trainer.measure.ceiling import pattern_rate

    try:
        return pattern_rate(load_pattern(step.pattern), step.tempo)
    except TrainerError:
        return None


def _state(step: Step, played: dict[str, list[SessionEntry]]) -> StepState:
    own = played.get(step.pattern, [])
    clean = [_clean(entry) for entry in own]
    best = max(clean, default=0.0)
    first = clean.index(best) if best else -1
    stuck = len(own) - 1 - first >= STUCK_AFTER
    return StepState(step, best or None, len(own), stuck)


def _clean(entry: SessionEntry) -> float:
    """Return the clean tempo of a session where it was judged strictly enough, else 0."""
    level = entry.conditions.strictness.partition(" ")[0]
    return entry.clean_tempo or 0.0 if level in COUNTS_AT else 0.0
