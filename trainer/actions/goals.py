"""The tempos a player needs, against the ceilings of the ladders that were climbed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.archive import goals
from trainer.archive.ceilings import climbs
from trainer.archive.session_file import open_session
from trainer.archive.session_list import list_sessions
from trainer.errors import BadInput
from trainer.measure.ceiling import margin, needed_rate

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.archive.ceilings import Climb
    from trainer.archive.goals import Goal
    from trainer.measure.ceiling import Margin


@dataclass(frozen=True, slots=True)
class GoalMargins:
    """A goal, the strokes a second it needs, and each climb's margin over it, the widest first."""

    goal: Goal
    asked: float
    margins: tuple[tuple[Climb, Margin], ...]


def margins_of_goals(folder: Path) -> list[GoalMargins]:
    """Return every goal with its margins, by the ladders of a folder."""
    known = goals.load()
    found = climbs(list_sessions(folder).entries) if known else []
    return [
        GoalMargins(goal, needed_rate(goal.tempo, goal.value), _margins(goal, found))
        for goal in known
    ]


def best_pattern(folder: Path, name: str) -> str:
    """Return the pattern with the widest margin of a goal; raises BadInput where there is none."""
    for one in margins_of_goals(folder):
        if one.goal.name == name and one.margins:
            return one.margins[0][0].pattern
    raise BadInput("there is no ladder to continue", mend="choose a pattern at home and press l")


def add_goal(goal: Goal) -> float:
    """Keep a goal, in place of one of the same name; return the strokes a second it needs."""
    goals.add(goal)
    return needed_rate(goal.tempo, goal.value)


def _margins(goal: Goal, found: list[Climb]) -> tuple[tuple[Climb, Margin], ...]:
    now = datetime.now().astimezone()
    asked = needed_rate(goal.tempo, goal.value)
    rows = []
    for climb in found:
        if goal.player and climb.player.casefold() != goal.player.casefold():
            continue
        if goal.pattern and climb.pattern != goal.pattern:
            continue
        ceiling = climb.ceiling(now)
        try:
            pattern = open_session(climb.entries[-1].path).pattern
        except BadInput:
            continue
        one = margin(asked, pattern, ceiling) if ceiling else None
        if one:
            rows.append((climb, one))
    return tuple(sorted(rows, key=lambda row: -row[1].margin))
