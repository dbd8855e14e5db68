"""`trainer sheet`: patterns as an engraved page for the music stand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console
from trainer.actions.patterns import SheetRequest, write_sheet
from trainer.errors import BadInput, TrainerError
from trainer.results import saved_words

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add which patterns to print, how, and where to."""
    parser.add_argument("patterns", nargs="*", metavar="PATTERN", help="a name or a file")
    parser.add_argument(
        "-o",
        "--output",
        required=True,
        type=Path,
        metavar="FILE",
        help="sheet.pdf, sheet.svg, sheet.html or sheet.musicxml",
    )
    what = parser.add_argument_group("what is printed")
    what.add_argument("--routine", default="", metavar="NAME", help="the patterns of a routine")
    what.add_argument("--tag", default="", help="all patterns with a tag")
    page = parser.add_argument_group("the page")
    page.add_argument("--title", default="", help="a heading for the page")
    page.add_argument("--paper", choices=("a4", "letter"), default="a4", help="default: a4")
    page.add_argument("--clean", action="store_true", help="your fastest clean tempo of each")
    page.add_argument("--name", action="store_true", help="room for a name and a date")
    page.add_argument(
        "--tempo-boxes",
        type=int,
        default=0,
        metavar="N",
        help="boxes beside each title to write tempos in",
    )
    page.add_argument(
        "--notes", type=int, default=0, metavar="N", help="lines for notes at the end"
    )


def run(args: Namespace) -> int:
    """Write the page, and its MusicXML beside it, which any notation program opens."""
    from trainer.pattern.formats.sheet import MOST_BOXES, MOST_NOTES, SheetStyle

    for name, count, most in (
        ("--tempo-boxes", args.tempo_boxes, MOST_BOXES),
        ("--notes", args.notes, MOST_NOTES),
    ):
        if not 0 <= count <= most:
            raise BadInput(f"{count} do not fit a page", where=name, fix=f"choose up to {most}")
    style = SheetStyle(args.title, args.paper, args.tempo_boxes, args.name, args.notes)
    request = SheetRequest(args.patterns, args.output, style, args.routine, args.tag, args.clean)
    written = 0
    try:
        for path in write_sheet(request):
            console.print_line(saved_words(path, args.output.with_suffix(path.suffix)))
            written += 1
    except TrainerError:
        if written:
            console.print_warning("The .musicxml is written and opens in any notation program.")
        raise
    return 0
