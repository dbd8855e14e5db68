"""`trainer goal`: what pieces of music ask for, against what stays clean."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer import console, settings
from trainer.archive import goals
from trainer.archive.ceilings import climbs
from trainer.archive.goals import Goal
from trainer.archive.session_file import open_session
from trainer.archive.session_list import list_sessions
from trainer.errors import BadInput
from trainer.measure.ceiling import margin, needed_rate
from trainer.measure.figure import plain_values

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace
    from collections.abc import Iterator

    from trainer.archive.ceilings import Climb
    from trainer.measure.ceiling import Margin


NO_GOALS = 'No goals yet: trainer goal add "name" --tempo 152 --value 16'


def options(parser: ArgumentParser) -> None:
    """Add the options of goals."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION")
    add = actions.add_parser("add", help="keep a goal, or change the one of this name")
    add.add_argument("name", metavar="NAME", help="the piece, or the passage")
    add.add_argument("--tempo", type=float, required=True, metavar="BPM", help="quarters a minute")
    add.add_argument("--value", default="16", metavar="VALUE", help="8, 8t, 16, 16t, 32, ...")
    add.add_argument("--player", default="", metavar="LABEL", help="whose goal it is")
    add.add_argument("--pattern", default="", metavar="NAME", help="compare with this pattern only")
    remove = actions.add_parser("remove", help="forget a goal")
    remove.add_argument("name", metavar="NAME", help="the goal's name")
    shown = actions.add_parser("list", help="every goal with its margins (also with no action)")
    for one in (parser, shown):
        one.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
        one.add_argument("--json", action="store_true", help="goals and margins as JSON")


def run(args: Namespace) -> int:
    """Add, remove or show goals."""
    if args.action == "add":
        goals.add(Goal(args.name, args.tempo, args.value, args.player, args.pattern))
        console.print_line(
            f"{args.name}: {needed_rate(args.tempo, args.value):.1f} strokes a second."
        )
        return 0
    if args.action == "remove":
        goals.remove(args.name)
        console.print_line(f"{args.name}: forgotten.")
        return 0
    rows = margins_of_goals(args.recordings)
    if args.json:
        console.print_json({"goals": [_row(goal, margins) for goal, margins in rows]})
    elif not rows:
        console.print_line(NO_GOALS)
    for goal, margins in () if args.json else rows:
        console.print_lines(lines(goal, margins))
    return 0


def margins_of_goals(
    recordings: str | None = None,
) -> list[tuple[Goal, list[tuple[Climb, Margin]]]]:
    """Return every goal with its margins, the widest first."""
    known, folder = goals.load(), settings.existing_recordings_folder(recordings)
    found = climbs(list_sessions(folder).entries) if known else []
    return [(goal, _margins(goal, found)) for goal in known]


def _margins(goal: Goal, found: list[Climb]) -> list[tuple[Climb, Margin]]:
    """The margins of a goal, the widest first: each pattern's ceiling against what is asked."""
    now = datetime.now().astimezone()
    asked = needed_rate(goal.tempo, goal.value)
    told = []
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
            told.append((climb, one))
    return sorted(told, key=lambda row: -row[1].margin)


def lines(goal: Goal, margins: list[tuple[Climb, Margin]]) -> Iterator[str]:
    """Yield a goal, then a line a margin."""
    asked = needed_rate(goal.tempo, goal.value)
    yield f"{goal.name}: {goal.value} at {goal.tempo:g} BPM, {asked:.1f} strokes a second"
    if not margins:
        yield "  no ladder to compare with yet: trainer ladder PATTERN"
    for climb, one in margins:
        by = f"{climb.player}, " * bool(climb.player)
        yield (
            f"  {one.standing}: {by}{climb.title} at {one.ceiling:.1f} a second, "
            f"margin {100 * one.margin:+.0f} % ({100 * one.low:+.0f} to {100 * one.high:+.0f})"
        )


def _row(goal: Goal, margins: list[tuple[Climb, Margin]]) -> dict[str, Any]:
    return {
        **plain_values(goal),
        "asked": needed_rate(goal.tempo, goal.value),
        "margins": [
            {"player": climb.player, "pattern": climb.pattern, **plain_values(one)}
            for climb, one in margins
        ],
    }
