"""Patterns as an engraved page for the music stand: PDF, SVG, HTML or MusicXML."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer import file_system
from trainer.errors import BadInput, TrainerError
from trainer.pattern import library

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from trainer.pattern.model import Pattern

SHEET_SUFFIXES = (".svg", ".pdf", ".html", ".musicxml", ".xml")
MUSICXML_SUFFIXES = (".musicxml", ".xml")


@dataclass(frozen=True, slots=True)
class SheetRequest:
    """Patterns, by name or file, in the order they are printed, and the file they go into.

    The file's ending says what it becomes. `paper` is `a4` or `letter`.
    """

    patterns: Sequence[str]
    output: Path
    title: str = ""
    paper: str = "a4"


def write_sheet(request: SheetRequest) -> Iterator[Path]:
    """Write the page, with its MusicXML beside it first; yield each file once it is there."""
    from trainer.pattern.formats.musicxml_write import to_musicxml

    patterns = [library.load_pattern(name) for name in request.patterns]
    output = request.output
    ending = output.suffix.lower()
    if ending not in SHEET_SUFFIXES:
        raise BadInput(
            "a sheet ends in .pdf, .svg, .html or .musicxml", where=str(output), mend="rename it"
        )
    document = to_musicxml(*patterns, title=request.title)
    if ending in MUSICXML_SUFFIXES:
        yield _save(output, document)
        return
    yield _save(output.with_suffix(".musicxml"), document)
    try:
        yield from _print(patterns, request)
    except TrainerError as error:
        raise error.at(str(output)) from None


def _print(patterns: Sequence[Pattern], request: SheetRequest) -> Iterator[Path]:
    from trainer.pattern.formats import sheet

    output, title, paper = request.output, request.title, request.paper
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
