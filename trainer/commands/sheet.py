"""`trainer sheet`: patterns as an engraved page for the music stand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console
from trainer.actions.patterns import SheetRequest, write_sheet
from trainer.errors import TrainerError
from trainer.results import saved_words

if TYPE_CHECKING:
    from argparse import ArgumentParser, Namespace


def options(parser: ArgumentParser) -> None:
    """Add which patterns to print and where to."""
    parser.add_argument("patterns", nargs="+", metavar="PATTERN", help="a name or a file")
    parser.add_argument(
        "-o",
        "--output",
        required=True,
        type=Path,
        metavar="FILE",
        help="sheet.pdf, sheet.svg, sheet.html or sheet.musicxml",
    )
    parser.add_argument("--title", default="", help="a heading for the page")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="default: a4")


def run(args: Namespace) -> int:
    """Write the page, and its MusicXML beside it, which any notation program opens."""
    written = 0
    try:
        for path in write_sheet(SheetRequest(args.patterns, args.output, args.title, args.paper)):
            console.print_line(saved_words(path, args.output.with_suffix(path.suffix)))
            written += 1
    except TrainerError:
        if written:
            console.print_warning("The .musicxml is written and opens in any notation program.")
        raise
    return 0
