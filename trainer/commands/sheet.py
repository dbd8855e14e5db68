"""`trainer sheet`: patterns as an engraved page for the music stand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer import report
from trainer.errors import BadInput, Failure, TrainerError
from trainer.pattern import files

if TYPE_CHECKING:
    import argparse
    from collections.abc import Sequence

    from trainer.pattern.model import Pattern

ENDINGS = (".svg", ".pdf", ".html", ".musicxml", ".xml")


def options(parser: argparse.ArgumentParser) -> None:
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


def run(args: argparse.Namespace) -> int:
    """Write the page, and its MusicXML beside it, which any notation program opens."""
    from trainer.pattern.musicxml_write import to_text

    output: Path = args.output
    ending = output.suffix.lower()
    if ending not in ENDINGS:
        raise BadInput(
            "a sheet ends in .pdf, .svg, .html or .musicxml", where=str(output), mend="rename it"
        )
    patterns = [files.load(name) for name in args.patterns]
    document = to_text(*patterns, title=args.title)
    if ending in (".musicxml", ".xml"):
        _save(output, document)
        return 0
    _save(output.with_suffix(".musicxml"), document)
    try:
        _print(output, ending, patterns, args)
    except TrainerError as error:
        report.warn("The .musicxml is written and opens in any notation program.")
        raise error.at(str(output)) from None
    return 0


def _print(
    output: Path, ending: str, patterns: Sequence[Pattern], args: argparse.Namespace
) -> None:
    from trainer.pattern import sheet, sheet_pdf

    pages = sheet.pages(patterns, args.title, args.paper)
    if ending == ".pdf":
        _save(output, sheet_pdf.to_pdf(pages, args.paper))
    elif ending == ".html":
        title = args.title or ", ".join(pattern.title for pattern in patterns)
        _save(output, sheet.as_html(pages, title, args.paper))
    elif len(pages) == 1:
        _save(output, pages[0])
    else:
        for number, page in enumerate(pages, 1):
            _save(output.with_stem(f"{output.stem}-{number}"), page)


def _save(path: Path, content: str | bytes) -> None:
    data = content.encode() if isinstance(content, str) else content
    try:
        path.write_bytes(data)
    except OSError as error:
        raise Failure(
            f"the file cannot be written ({error.strerror})",
            where=str(path),
            mend="choose another place",
        ) from error
    report.say(f"written: {path}")
