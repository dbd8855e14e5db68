"""`trainer history`: the sessions so far, the time spent, and where the numbers are going."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console
from trainer.actions.history import HistoryRequest, goal_tempos, read_history
from trainer.archive.history import start_of_period
from trainer.results import saved_words
from trainer.settings import existing_recordings_folder

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.actions.history import History


def options(parser: ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument("pattern", nargs="?", help="a pattern's name or a part of it")
    parser.add_argument("--player", metavar="NAME", help="only sessions of this player")
    parser.add_argument("--since", metavar="TIME", help="30d, 6w, 3m, 1y or a date")
    parser.add_argument("--all", action="store_true", help="list more than the latest 20")
    parser.add_argument(
        "--simulated", action="store_true", help="the simulated player's sessions too"
    )
    parser.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    parser.add_argument("--json", action="store_true", help="everything as JSON")
    parser.add_argument("--plain", action="store_true", help="lines of text instead of the screen")
    parser.add_argument("--svg", metavar="FILE", type=Path, help="draw tempos and ceilings")


def run(args: Namespace) -> int:
    """Show the history."""
    now = datetime.now().astimezone()
    start = start_of_period(args.since, now) if args.since else None
    folder = existing_recordings_folder(args.recordings)
    request = HistoryRequest(folder, args.pattern, args.player, start, args.simulated)
    if console.has_screen() and not (args.plain or args.all or args.json or args.svg):
        from trainer.commands import on_screen
        from trainer.screens.history import HistoryScreen

        return on_screen.show(HistoryScreen(request))
    history = read_history(request)
    _print_remarks(history)
    _print(history, request, args, now)
    for fault in history.sessions.faults:
        console.print_warning(str(fault))
    return 0


def _print_remarks(history: History) -> None:
    if history.sessions.recovered:
        from trainer.show.session_words import recovered_words

        for one in history.sessions.recovered:
            console.print_warning(recovered_words(one))


def _print(history: History, request: HistoryRequest, args: Namespace, now: datetime) -> None:
    if args.svg:
        from trainer.show import svg
        from trainer.show.pictures import history_picture

        saved = svg.save_picture(args.svg, history_picture(history.chosen, now.date(), goal_tempos))
        console.print_line(saved_words(saved, args.svg))
    elif args.json:
        from trainer.actions.json_documents import ceilings_document, history_document

        ceilings = ceilings_document(history.climbs, now)
        console.print_json(history_document(history.chosen, ceilings))
    elif history.chosen:
        from trainer.show.history_words import history_lines

        console.print_words(history_lines(history, now, everything=args.all))
    else:
        console.print_line(_nothing_words(request, history))


def _nothing_words(request: HistoryRequest, history: History) -> str:
    if not history.sessions.entries:
        return f"No session yet in {request.folder}. Begin: trainer play single-stroke-roll"
    if read_history(replace(request, simulated=True)).chosen:
        return "Only sessions of the simulated player; show them: trainer history --simulated"
    return f"No session fits in {request.folder}."
