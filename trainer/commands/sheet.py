"""`trainer sheet`: patterns as an engraved page for the music stand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from trainer import console, file_system
from trainer.errors import BadInput, TrainerError
from trainer.pattern import library

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterator, Sequence

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
    patterns = [library.load_pattern(name) for name in args.patterns]
    written = 0
    try:
        for path in write(patterns, args.output, args.title, args.paper):
            console.print_line(f"written: {path}")
            written += 1
    except TrainerError:
        if written:
            console.print_warning("The .musicxml is written and opens in any notation program.")
        raise
    return 0


def write(
    patterns: Sequence[Pattern], output: Path, title: str = "", paper: str = "a4"
) -> Iterator[Path]:
    """Write the page that a file's ending asks for; yield each file once it is there."""
    from trainer.pattern.formats.musicxml_write import to_musicxml

    ending = output.suffix.lower()
    if ending not in ENDINGS:
        raise BadInput(
            "a sheet ends in .pdf, .svg, .html or .musicxml", where=str(output), mend="rename it"
        )
    document = to_musicxml(*patterns, title=title)
    if ending in (".musicxml", ".xml"):
        yield _save(output, document)
        return
    yield _save(output.with_suffix(".musicxml"), document)
    try:
        yield from _print(patterns, output, title, paper)
    except TrainerError as error:
        raise error.at(str(output)) from None


def _print(patterns: Sequence[Pattern], output: Path, title: str, paper: str) -> Iterator[Path]:
    from trainer.pattern.formats import sheet

    ending = output.suffix.lower()
    pages = sheet.sheet_pages(patterns, title, paper)
    if ending == ".pdf":
        yield _save(output, sheet.to_pdf(pages, paper))
    elif ending == ".html":
        heading = title or ", ".join(pattern.title for pattern in patterns)
        yield _save(output, sheet.pages_as_html(pages, heading, paper))
    elif len(pages) == 1:
        yield _save(output, pages[0])
    else:
        for number, page in enumerate(pages, 1):
            yield _save(output.with_stem(f"{output.stem}-{number}"), page)


def _save(path: Path, content: str | bytes) -> Path:
    file_system.write_file(path, content.encode() if isinstance(content, str) else content)
    return path
