"""`trainer advice`: what a session says is worth practising, and a drill made for each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import console
from trainer.actions.advice import AdviceRequest, read_advice, save_drill
from trainer.settings import existing_recordings_folder

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument(
        "session",
        nargs="?",
        help="a session file, or a part of its name (default: the newest with enough strokes)",
    )
    parser.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    parser.add_argument("--no-drills", action="store_true", help="write no drills")
    parser.add_argument("--json", action="store_true", help="findings and drills as JSON")


def run(args: Namespace) -> int:
    """Print what is worth practising and save the drills."""
    one = read_advice(AdviceRequest(existing_recordings_folder(args.recordings), args.session))
    drills = [] if args.no_drills else [save_drill(one, finding) for finding in one.findings]
    if args.json:
        from trainer.actions.json_documents import advice_document

        console.print_json(advice_document(one, drills))
        return 0
    from trainer.show.comparison_words import advice_heading, finding_lines

    console.print_words(advice_heading(one))
    for place, line in enumerate(finding_lines(one)):
        console.print_words([line])
        if drills:
            console.print_line(f"   Drill: trainer play {drills[place]}")
    return 0
