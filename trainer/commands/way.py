"""`trainer way [NAME]`: what leads from pattern to pattern, and where the player is on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer import console
from trainer.settings import existing_recordings_folder

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add the options of this command."""
    parser.add_argument("name", nargs="?", help="a way, or a part of its title (default: all)")
    parser.add_argument("--recordings", metavar="DIR", help="the folder sessions are saved in")
    parser.add_argument("--json", action="store_true", help="every step as JSON")


def run(args: Namespace) -> int:
    """Print where the player is on every way, or each step of one."""
    from trainer.actions import ways
    from trainer.actions.ways import WaysFound

    folder = existing_recordings_folder(args.recordings)
    found = ways.states_of_ways(folder)
    if args.name:
        found = WaysFound((ways.find_way(folder, args.name),), ())
    if args.json:
        from trainer.actions.pattern_documents import ways_document

        console.print_json(ways_document(found.ways))
        return 0
    from trainer.show.pattern_words import way_line, way_lines

    if args.name:
        rates = [ways.rate_of(state.step) for state in found.ways[0].steps]
        console.print_lines(way_lines(found.ways[0], rates))
    else:
        console.print_lines(map(way_line, found.ways))
        console.print_lines(map(str, found.faults))
    return 0
