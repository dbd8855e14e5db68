"""The patterns: listing, making, checking, exporting and engraving them for the music stand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.checked import nearest, shortened
from trainer.errors import BadInput, Faults, TrainerError
from trainer.pattern import library
from trainer.pattern.language import changes
from trainer.pattern.library import PatternFilter
from trainer.results import save_result

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from trainer.pattern.formats.sheet import SheetStyle
    from trainer.pattern.library import PatternEntry
    from trainer.pattern.model import Pattern
    from trainer.practice.routine import Block


def list_patterns(wanted: PatternFilter) -> list[PatternEntry]:
    """Return the patterns that fit; raises BadInput for a tag that no pattern has."""
    entries = all_patterns()
    known = sorted({tag for entry in entries for tag in entry.tags})
    for tag in wanted.tags:
        if tag not in known:
            raise BadInput(f'no pattern has the tag "{shortened(tag)}"', fix=nearest(tag, known))
    return [entry for entry in entries if wanted.fits(entry)]


MOST_COMPUTED = 100
"""So many patterns without a written level are laid out for a list; it has to come at once."""


def all_patterns() -> list[PatternEntry]:
    """Return all patterns by name; the level of those that write none is computed."""
    entries = library.catalogue()
    without = [one for one in entries if one.level is None and not one.fault][:MOST_COMPUTED]
    levels = {one.name: _computed_level(one) for one in without}
    return [replace(one, level=levels.get(one.name, one.level)) for one in entries]


def _computed_level(entry: PatternEntry) -> int | None:
    from trainer.pattern.level import computed_level

    try:
        return computed_level(library.load_pattern(str(entry.path))).level
    except TrainerError:  # what is wrong below its headings is said where it is opened
        return None


FAMILIES = (
    ("Rudiments", "rudiment"),
    ("One hand", "one hand"),
    ("Bursts and runs", "bursts", "endurance"),
    ("Swing", "swing"),
    ("Time and fills", "time and fills"),
    ("Climbs", "climb"),
    ("Loud and soft", "dynamics", "ghosts"),
    ("Accents", "accents", "displacement"),
    ("Every order", "orders"),
    ("Feet and ostinatos", "ostinato", "feet"),
    ("Hands and feet together", "unison", "hands and feet", "linear", "groove"),
    ("Fives, sevens and odd meters", "quintuplets", "septuplets", "odd meter", "polyrhythm"),
    ("Odd groups", "odd groups"),
    ("Triplets and sextuplets", "triplets", "sextuplets"),
    ("Doubles and paradiddles", "doubles", "paradiddle", "paradiddles", "triples"),
    ("Around the kit", "moves", "cymbals", "crossing", "zones"),
    ("Singles", "singles"),
)
"""The chapters of the list, each with its tags; a pattern is in the first one that fits."""

LIST_ORDERS = ("family", "name", "level", "way", "clean", "played")
Chapter = tuple[str, list["PatternEntry"]]
"""A heading of the list, and the patterns below it."""


def chapters(entries: Sequence[PatternEntry], by: str, folder: Path) -> list[Chapter]:
    """Return patterns in chapters: by family, level or way; by name, or in the player's order.

    `clean` has the fastest clean tempo first, `played` what was practised last; both know the
    sessions of a folder, and leave out what was never clean or played.
    """
    if by == "family":
        easiest = sorted(entries, key=lambda one: (one.level or MOST_LEVEL + 1, one.name))
        found = _grouped((_family(one), one) for one in easiest)
        order = [heading for heading, *_ in FAMILIES]
        found.sort(key=lambda one: order.index(one[0]) if one[0] in order else len(order))
        return found
    if by == "level":
        levels = sorted(entries, key=lambda one: (one.level or MOST_LEVEL + 1, one.name))
        return _grouped((f"Level {one.level}" if one.level else "No level", one) for one in levels)
    if by == "way":
        return _by_way(entries)
    if by in ("clean", "played"):
        return _by_practice(entries, by, folder)
    return [("", list(entries))]


def _grouped(rows: Iterable[tuple[str, PatternEntry]]) -> list[Chapter]:
    """Return chapters in the order in which their headings came."""
    found: dict[str, list[PatternEntry]] = {}
    for heading, entry in rows:
        found.setdefault(heading, []).append(entry)
    return list(found.items())


MOST_LEVEL = 5


def _family(entry: PatternEntry) -> str:
    fitting = (heading for heading, *tags in FAMILIES if set(tags) & set(entry.tags))
    return next(fitting, "Others")


def _by_way(entries: Sequence[PatternEntry]) -> list[Chapter]:
    from trainer.pattern.ways import known_ways

    by_name = {one.name: one for one in entries}
    found, placed = [], set[str]()
    for way in known_ways()[0]:
        names = dict.fromkeys(changes.split(step.pattern)[0] for step in way.steps)
        found.append((way.title, [by_name[name] for name in names if name in by_name]))
        placed |= names.keys()
    found.append(("On no way", [one for one in entries if one.name not in placed]))
    return [chapter for chapter in found if chapter[1]]


def _by_practice(entries: Sequence[PatternEntry], by: str, folder: Path) -> list[Chapter]:
    from trainer.archive.history import practised_patterns
    from trainer.archive.session_list import by_people, list_sessions

    played = (one for one in by_people(list_sessions(folder).entries) if one.played)
    known = practised_patterns(played)
    own = [(known[one.name], one) for one in entries if one.name in known]
    if by == "clean":
        rows = sorted(
            ((found.clean_tempo, one) for found, one in own if found.clean_tempo),
            key=lambda row: -row[0],
        )
        return _grouped((f"Clean at {tempo:g} BPM", one) for tempo, one in rows)
    own.sort(key=lambda row: row[0].last, reverse=True)
    return _grouped((f"{found.last.day} {found.last:%b %Y}", one) for found, one in own)


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
    pattern = notation.read(table, request.name or "new", load=library.load_as_written)
    text = toml_text(table)
    path = library.save_pattern(request.name, text) if request.name else None
    return MadePattern(text, library.for_own_kit(pattern), path)


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
    pattern = library.load_as_written(request.pattern)
    if request.tempo is not None:
        pattern = replace(pattern, tempo=check_tempo(request.tempo))
    name = EXPORT_FORMATS[ending]
    source = library.pattern_file(request.pattern)
    saved = save_result(request.output, _content(name, pattern), [source])
    try:
        lost = losses(pattern, library.load_as_written(str(saved.absolute())))
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
    """What is printed, in this order, and the file it goes into.

    `patterns` are named or files; `routine` adds the patterns of a routine, once each, at the
    tempos it plays them, and `tag` those that have a tag. `clean` prints the player's fastest clean
    tempo of each. The file's ending says what it becomes.
    """

    patterns: Sequence[str]
    output: Path
    style: SheetStyle | None = None
    routine: str = ""
    tag: str = ""
    clean: bool = False


def write_sheet(request: SheetRequest) -> Iterator[Path]:
    """Write the page, with its MusicXML beside it first; yield each file once it is there."""
    from trainer.pattern.formats.musicxml_write import to_musicxml
    from trainer.pattern.formats.sheet import SheetStyle

    output = request.output
    ending = output.suffix.lower()
    if ending not in SHEET_SUFFIXES:
        raise BadInput(
            "a sheet ends in .pdf, .svg, .html or .musicxml", where=str(output), fix="rename it"
        )
    patterns, title = _printed(request)
    style = request.style or SheetStyle()
    style = replace(style, title=style.title or title)
    if request.clean:
        style = replace(style, clean_tempos=_clean_tempos())
    document = to_musicxml(*patterns, title=style.title)
    sources = [*map(library.pattern_file, request.patterns)]
    if request.routine or request.tag:
        sources += [entry.path for entry in library.catalogue()]
    if ending in MUSICXML_SUFFIXES:
        yield save_result(output, document, sources)
        return
    yield save_result(output.with_suffix(".musicxml"), document, sources)
    try:
        yield from _print(patterns, output, style)
    except TrainerError as error:
        raise error.at(str(output)) from None


def _printed(request: SheetRequest) -> tuple[list[Pattern], str]:
    """Return the patterns of a sheet, and the title it has where none is given."""
    patterns = [library.load_pattern(name) for name in request.patterns]
    title = ""
    if request.routine:
        from trainer.archive.routines import find_routine, load_routine

        routine = load_routine(find_routine(request.routine))
        blocks = {block.opened: block for block in routine.blocks if block.pattern}
        patterns += [_at_tempo(library.load_pattern(name), blocks[name]) for name in blocks]
        title = routine.title
    if request.tag:
        entries = list_patterns(PatternFilter(tags=(request.tag,)))
        patterns += [library.load_pattern(entry.name) for entry in entries if not entry.fault]
        title = title or request.tag.capitalize()
    if not patterns:
        raise BadInput("there is nothing to print", fix="name a pattern, a routine or a tag")
    return patterns, title


def _clean_tempos() -> dict[str, float]:
    """Return the fastest clean tempo of each pattern that was played clean."""
    from trainer.archive.history import practised_patterns
    from trainer.archive.session_list import list_sessions
    from trainer.settings import recordings_folder

    played = [one for one in list_sessions(recordings_folder()).entries if one.played]
    found = practised_patterns(played)
    return {name: one.clean_tempo for name, one in found.items() if one.clean_tempo}


def _at_tempo(pattern: Pattern, block: Block) -> Pattern:
    """Return a pattern at the tempo a block of a routine begins with."""
    tempo = block.tempo or block.start
    return replace(pattern, tempo=tempo) if tempo else pattern


def _print(patterns: Sequence[Pattern], output: Path, style: SheetStyle) -> Iterator[Path]:
    from trainer.pattern.formats import sheet, sheet_print

    ending = output.suffix.lower()
    pages = sheet.sheet_pages(patterns, style)
    if ending == ".pdf":
        yield save_result(output, sheet_print.to_pdf(pages, style.paper))
    elif ending == ".html":
        heading = style.title or ", ".join(pattern.title for pattern in patterns)
        yield save_result(output, sheet_print.pages_as_html(pages, heading, style.paper))
    elif len(pages) == 1:
        yield save_result(output, pages[0])
    else:
        for number, page in enumerate(pages, 1):
            yield save_result(output.with_stem(f"{output.stem}-{number}"), page)
