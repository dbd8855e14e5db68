"""The patterns: listing, making, checking, exporting and engraving them for the music stand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.checked import nearest, shortened
from trainer.errors import BadInput, Faults, TrainerError
from trainer.pattern import library
from trainer.pattern.language import changes
from trainer.results import save_result

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from trainer.pattern.library import PatternEntry, PatternFilter
    from trainer.pattern.model import Pattern


def list_patterns(wanted: PatternFilter) -> list[PatternEntry]:
    """Return the patterns that fit; raises BadInput for a tag that no pattern has."""
    entries = library.catalogue()
    known = sorted({tag for entry in entries for tag in entry.tags})
    for tag in wanted.tags:
        if tag not in known:
            raise BadInput(f'no pattern has the tag "{shortened(tag)}"', fix=nearest(tag, known))
    return [entry for entry in entries if wanted.fits(entry)]


@dataclass(frozen=True, slots=True)
class MakeRequest:
    """What to write, by the keys of `trainer.pattern.language.changes`, and the name to save as.

    Without a name nothing is saved.
    """

    changes: Mapping[str, str]
    name: str = ""


@dataclass(frozen=True, slots=True)
class MadePattern:
    """A pattern as TOML text and as it reads; `path` is where it was saved, None where not."""

    text: str
    pattern: Pattern
    path: Path | None = None


def make_pattern(request: MakeRequest) -> MadePattern:
    """Build a pattern and save it where it has a name; raises BadInput for what cannot be read."""
    from trainer.pattern.language import notation
    from trainer.toml_text import toml_text

    table = changes.in_reference_order(changes.applied({}, dict(request.changes)))
    pattern = notation.read(table, request.name or "new", load=library.load_pattern)
    text = toml_text(table)
    path = library.save_pattern(request.name, text) if request.name else None
    return MadePattern(text, pattern, path)


@dataclass(frozen=True, slots=True)
class CheckedPattern:
    """A pattern file by its name as given: the pattern it holds, or else its faults."""

    name: str
    pattern: Pattern | None
    faults: tuple[BadInput, ...] = ()


def check_patterns(names: Sequence[str]) -> Iterator[CheckedPattern]:
    """Yield each file with its pattern or all its faults."""
    return map(_checked, names)


def _checked(name: str) -> CheckedPattern:
    try:
        pattern = library.load_pattern(name)
        _check_playable(name, pattern)
        return CheckedPattern(name, pattern)
    except Faults as several:
        return CheckedPattern(name, None, tuple(several.faults))
    except BadInput as fault:
        return CheckedPattern(name, None, (fault,))


def _check_playable(name: str, pattern: Pattern) -> None:
    """Refuse what playing would refuse, in the same words."""
    from trainer.pattern.json_data import check_playable

    try:
        check_playable(pattern)
    except BadInput as fault:
        raise fault.at(name) from None


@dataclass(frozen=True, slots=True)
class ExportRequest:
    """A pattern by name or file, the file to write (its ending says the format), and the tempo.

    `tempo` is in BPM, None for the pattern's own.
    """

    pattern: str
    output: Path
    tempo: float | None = None


@dataclass(frozen=True, slots=True)
class ExportedPattern:
    """The file that was written, what its format could not carry, and why that is not known."""

    path: Path
    format: str
    losses: tuple[str, ...] = ()
    unread: BadInput | None = None


EXPORT_FORMATS = {
    ".mid": "A MIDI file",
    ".midi": "A MIDI file",
    ".musicxml": "MusicXML",
    ".xml": "MusicXML",
    ".txt": "Tab",
}
"""What a pattern is exported as, by the ending of the file."""


def export_pattern(request: ExportRequest) -> ExportedPattern:
    """Write a pattern in another format, then read it back to see what it has lost."""
    from trainer.pattern.description import losses
    from trainer.practice.course import check_tempo

    ending = request.output.suffix.lower()
    if ending not in EXPORT_FORMATS:
        raise BadInput(
            f"an export ends in {', '.join(EXPORT_FORMATS)}",
            where=str(request.output),
            fix="rename it",
        )
    pattern = library.load_pattern(request.pattern)
    if request.tempo is not None:
        pattern = replace(pattern, tempo=check_tempo(request.tempo))
    name = EXPORT_FORMATS[ending]
    source = library.pattern_file(request.pattern)
    saved = save_result(request.output, _content(name, pattern), [source])
    try:
        lost = losses(pattern, library.load_pattern(str(saved.absolute())))
    except BadInput as fault:  # the longest patterns make files larger than are read
        return ExportedPattern(saved, name, unread=fault)
    return ExportedPattern(saved, name, tuple(lost))


def _content(name: str, pattern: Pattern) -> bytes:
    if name == EXPORT_FORMATS[".mid"]:
        from trainer.pattern.formats.midi_write import to_midi

        return to_midi(pattern)
    if name == EXPORT_FORMATS[".musicxml"]:
        from trainer.pattern.formats.musicxml_write import to_musicxml

        return to_musicxml(pattern).encode()
    from trainer.pattern.formats.tab_file import to_tab_file

    return to_tab_file(pattern).encode()


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
            "a sheet ends in .pdf, .svg, .html or .musicxml", where=str(output), fix="rename it"
        )
    document = to_musicxml(*patterns, title=request.title)
    sources = [*map(library.pattern_file, request.patterns)]
    if ending in MUSICXML_SUFFIXES:
        yield save_result(output, document, sources)
        return
    yield save_result(output.with_suffix(".musicxml"), document, sources)
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
        yield save_result(output, sheet.to_pdf(pages, paper))
    elif ending == ".html":
        heading = title or ", ".join(pattern.title for pattern in patterns)
        yield save_result(output, sheet.pages_as_html(pages, heading, paper))
    elif len(pages) == 1:
        yield save_result(output, pages[0])
    else:
        for number, page in enumerate(pages, 1):
            yield save_result(output.with_stem(f"{output.stem}-{number}"), page)
