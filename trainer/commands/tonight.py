"""`trainer tonight`: an evening laid out from what the sessions say, to be played or saved."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from trainer import console
from trainer.settings import existing_recordings_folder

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace

    from trainer.actions.tonight import Tonight


def options(parser: ArgumentParser) -> None:
    """Add the options of this command."""
    add = parser.add_argument
    add("--minutes", type=float, metavar="N", help="how long, with rests (default: 40)")
    add("--save", metavar="NAME", help="save it as a routine of this name; nothing is played")
    add("--port", default="", metavar="NAME", help="what you play on: a MIDI input, or keys")
    add("--player", default="", metavar="LABEL", help="whose sessions count")
    add("--recordings", metavar="DIR", help="the folder sessions are saved in")
    add("--plain", action="store_true", help="lines of text instead of the screen")
    add("--json", action="store_true", help="the evening as JSON; nothing is played")


def run(args: Namespace) -> int:
    """Show the evening; on a terminal enter starts it."""
    from trainer.actions.tonight import TonightRequest, plan_tonight, save_evening

    folder = existing_recordings_folder(args.recordings)
    request = TonightRequest(folder, args.port, args.player, args.minutes)
    if console.has_screen() and not (args.plain or args.json or args.save):
        from trainer.commands import on_screen
        from trainer.screens.page_screen import screen_of_page
        from trainer.screens.pages_tonight import evening_page

        return on_screen.show(screen_of_page(evening_page(request)))
    found = plan_tonight(request)
    if args.save:
        saved = save_evening(found.evening, args.save)
    if args.json:
        from trainer.actions.json_documents import tonight_document

        console.print_json(tonight_document(found))
        return 0
    from trainer.show.session_words import evening_lines

    console.print_words(evening_lines(found))
    if args.save:
        console.print_line(f"written: {saved}")
    elif sys.stdin.isatty() and sys.stdout.isatty():
        return _offer(found, args)
    return 0


def _offer(found: Tonight, args: Namespace) -> int:
    """Play the evening in lines of text where the player presses enter alone."""
    from trainer.actions.requests import PlayedOn, RoutineRequest, Setup
    from trainer.actions.routine import RoutineRun
    from trainer.actions.tonight import keep_evening
    from trainer.commands import play_as_text
    from trainer.commands.play_options import TextOptions

    console.print_line("Enter starts it; q and enter leaves.")
    if sys.stdin.readline() != "\n":
        return 0
    setup = Setup(PlayedOn(args.port), player=args.player, recordings=args.recordings)
    going = RoutineRun(RoutineRequest(str(keep_evening(found.evening)), setup=setup))
    play_as_text.play_routine(going, TextOptions(plain=True))
    return 0
