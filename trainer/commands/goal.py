"""`trainer goal`: the tempos you need, against what stays clean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import console, settings

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.actions.history import GoalMargins


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
    from trainer.actions import history as actions
    from trainer.archive import goals
    from trainer.archive.goals import Goal

    if args.action == "add":
        goal = Goal(args.name, args.tempo, args.value, args.player, args.pattern)
        console.print_line(f"{goal.name}: {actions.add_goal(goal):.1f} strokes a second.")
    elif args.action == "remove":
        goals.remove(args.name)
        console.print_line(f"{args.name}: forgotten.")
    else:
        folder = settings.existing_recordings_folder(args.recordings)
        _print(actions.margins_of_goals(folder), as_json=args.json)
    return 0


def _print(rows: list[GoalMargins], *, as_json: bool) -> None:
    from trainer.show.history_words import NO_GOALS, goal_lines

    if as_json:
        from trainer.actions.json_documents import goals_document

        console.print_json(goals_document(rows))
    elif not rows:
        console.print_line(NO_GOALS)
    else:
        for row in rows:
            console.print_words(goal_lines(row))
