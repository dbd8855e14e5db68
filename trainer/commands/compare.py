"""`trainer compare`: two sessions or takes of one pattern, and what changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import console
from trainer.actions.comparison import CompareRequest, compare
from trainer.settings import existing_recordings_folder

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument(
        "first", help="a session file, a part of its name, or a recorded take (.mid): the earlier"
    )
    parser.add_argument("second", help="the session or take to compare it with")
    parser.add_argument("--pattern", metavar="P", help="what was played in a recorded take")
    parser.add_argument("--kit", metavar="NAME", help="read recorded takes through this kit")
    parser.add_argument("--latency", type=float, metavar="MS", help="how late that kit is, in ms")
    parser.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    parser.add_argument("--json", action="store_true", help="every number as JSON")


def run(args: Namespace) -> int:
    """Compare two sessions or takes."""
    folder = existing_recordings_folder(args.recordings)
    found = compare(
        CompareRequest(folder, args.first, args.second, args.pattern, args.kit, args.latency)
    )
    if args.json:
        from trainer.actions.json_documents import comparison_document

        console.print_json(comparison_document(found))
    else:
        from trainer.show.comparison_words import comparison_lines

        console.print_lines(comparison_lines(found))
    return 0
